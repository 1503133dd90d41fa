//! The judging of readings, against brute force, a statistics library and hand arithmetic.

mod brute; // posterior against grid integration and plain Monte Carlo
mod groups; // what no reading tells apart, what fits nothing, and properties of the posterior
mod normal; // tails and densities against statrs
mod probe; // what a measurement tells, by hand and by brute force
mod rules; // the trade's rules of thumb, by computation
mod standing; // pass, fail and retest, and what is said for them
mod twopickups; // the small circuit that the others judge
