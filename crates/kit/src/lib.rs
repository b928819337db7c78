//! The drawer: what parts a photographer owns, what fits what, and the train that a choice of parts makes.
//!
//! - [`Kit`] is read from and written to the kit file (TOML, [`Kit::parse`], [`Kit::to_toml`]). Every field of every kind
//!   of part is declared once, in [`Kind::spec`]: its unit, its range, the uncertainty of a plain number and why, and
//!   the default of an absent one. Reading, writing, errors and forms all come from there.
//! - [`Setup::resolve`] turns parts as a person names them ("body, tube, lens, close-up lens") into one canonical
//!   [`Spec`] with nothing implicit; [`Setup::report`] computes only from that.
//! - [`Kit::film`] is a film with a person's own test of it before what is published.
//! - [`reach`] lists every set-up that mounts and threads allow.
//!
//! Absent on purpose: files (text in, text out), the notebook, words of the command line, laws of films (they are the film crate's).

mod arrange;
mod error;
mod field;
mod films;
mod fit;
mod form;
mod heads;
mod join;
mod limits;
mod misses;
mod missing;
mod parse;
mod part;
mod points;
mod reach;
mod report;
mod resolve;
mod schema;
mod setup_error;
mod solve;
mod spec;
mod survey;
mod working;
mod write;

pub use error::{KitError, Place, Problem, Slip};
pub use field::{Absent, FieldSpec, Quantity, Range, Shape, Spread, Value};
pub use films::{ChosenFilm, NoSuchFilm};
pub use fit::{Choice, FREE, Facing, Hold, Join, Misfit, Order};
pub use limits::{AskedLimits, Limits, MOST_STACKS};
pub use missing::Missing;
pub use part::{Kit, Part};
pub use reach::{Demand, Miss, Reach, ReachedSetup, Setting, Span, reach};
pub use report::{Report, Warning};
pub use resolve::{Focus, Setup, SetupRequest};
pub use schema::{Kind, KindSpec};
pub use setup_error::SetupError;
pub use spec::{
    CloseRange, CloseUp, ConverterSpec, FocusSpec, Focusing, Gap, Layout, LensLink, LensSpec, Link, Separation, Spec,
    SpecError,
};
pub use survey::{Optics, Spot, Survey, Surveyed};
pub use working::{LinkageEnds, Obstacle, Shutter, Standing};
