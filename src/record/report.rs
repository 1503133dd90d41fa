//! The report: one page that shows the work, and a label for the lead's tag.
//!
//! Values in, text out. [`ReportInput`] holds plain values, whatever check they come from; a
//! [`Transcript`] makes them of what a run said. The page is one HTML file with nothing outside
//! it: no script, no font, no picture, no address. Meaning stands in words, shapes and hatching,
//! so that it survives a printer without colour. What the user typed stays text in every form.

mod batch;
mod control;
mod drawing;
mod input;
mod job;
mod label;
mod markdown;
mod page;
mod sheet;
mod text;
mod transcript;
mod unchecked;

pub use batch::{BatchInput, PieceLine, batch_html, batch_markdown};
pub use control::{control_cautions, control_sections, control_unchecked};
pub use input::{
    Expected, MarkSpan, MeasuredValue, MeterLine, ReportInput, RunReport, Section, StateRow,
    States, Subject, TickMark, Trace, Track, TrackBin, TrackFault,
};
pub use job::{JobInput, JobPart, MOST_PARTS, job_html, job_markdown};
pub use label::label;
pub use markdown::markdown;
pub use page::html;
pub use transcript::Transcript;
pub use unchecked::{lead_cautions, lead_unchecked};
