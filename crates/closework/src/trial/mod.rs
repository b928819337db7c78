//! Blind trials: what is shown, what was picked, and what follows. No pages and no files in here; `web::trial` shows it.

mod course;
mod document;
mod eye;
mod outcome;
mod words;

pub use course::Course;
pub use document::{FEWEST, MOST, TrialDocument, TrialScan};
pub use eye::{Candidate, Figures, Measure, candidates, figures};
pub use outcome::{EyeDocument, ItemDocument, OutcomeDocument, PairDocument, RangeDocument, outcome};
pub use words::{Measured, agreement_words, enough, headline, measured, span, steady};
