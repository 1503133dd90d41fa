//! From readings to the likeliest fault: Bayes' rule over the rows of a forecast table.
//!
//! Each hypothesis says what every measurement would read; the parts' tolerances move all
//! readings of one instrument together, the meter moves each by itself. What that makes of the
//! readings taken is the likelihood, practice gives the prior, and the rest is arithmetic. What
//! no reading so far can tell apart is one group, what fits nothing is said to, and the next
//! measurement is the one that tells most for its effort.
//!
//! Where the model ends: readings are taken as linear in the parts' relative errors, and errors
//! as normal (a tolerance is the half-width of a rectangle, JCGM 100:2008, 4.3.7).

pub mod case;
pub mod evidence;
pub mod grouping;
pub mod likelihood;
pub mod normal;
pub mod posterior;
pub mod priors;
pub mod probe;
pub mod reasons;
pub mod standing;

mod cause;
mod fit;
mod joint;
mod predictive;

pub use case::Case;
pub use evidence::{Evidence, Meter, Observation, Seen};
pub use fit::Fit;
pub use grouping::Group;
pub use posterior::Diagnosis;
pub use priors::{Priors, PriorsError};
pub use probe::{Next, Probe};
pub use reasons::Reason;
pub use standing::{Standing, Verdict};
