//! The verdict on measured set-ups: what serves each use, what each part is good for, the cheapest kit, and how sure.
//!
//! One function makes one document from the notebook ([`verdict()`]); pages, command line and reports show that and nothing else. The
//! way there: uses stated in the notebook, or worked out of a job ([`uses`]); set-ups that frames were planned or taken with
//! ([`candidates`]); what their scans show ([`observed`]), pooled and brought to the subject ([`figures`]); what the kit's data say
//! ([`predicted`]), never mixed with it; rulings and the choice of parts by the crate of the same name; words ([`judged`], `words`) and
//! what would decide the rest ([`next`]).
//!
//! What tracing predicts of set-ups that no frame shows ([`foreseen`]) stands in a part of the document of its own, and changes nothing in
//! the rest.
//!
//! Like is compared with like: every resolution, contrast and fringe is judged on the *subject*. A frame taken smaller is judged at a
//! finer structure on its film, as it would be after enlarging both to the same print.

mod build;
pub mod candidates;
pub mod figures;
pub mod foreseen;
pub mod judged;
pub mod money;
pub mod next;
pub mod observed;
pub mod predicted;
pub mod uses;
mod words;

pub use build::{Prepared, VerdictTrouble, prepare, verdict};
pub use foreseen::{foresee, foresee_now};

#[cfg(test)]
pub(crate) mod tests;
