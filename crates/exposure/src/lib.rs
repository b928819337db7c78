//! From a hand-held meter's reading to what is set on the camera.
//!
//! The order is the trade's: first everything that multiplies the light (how the meter was held, the f-number, extension,
//! filters), then the film's loss in long exposures, which needs the whole time, and last the nearest speed that the shutter has.
//! Every step carries its uncertainty ([`expose`]). Besides: which frames to take when one is not safe ([`bracket`]), flash by guide number
//! or flash meter ([`Flash`]), and what moves ([`Movement`], [`shake`]).
//!
//! Absent on purpose: gear, trains, files. The light lost in the set-up comes in as one estimate in stops, the film from the film
//! crate.

mod answer;
mod bracket;
mod check;
mod flash;
mod movement;
mod question;
mod remark;

pub use answer::{Answer, OtherLaw, Stage, Step, expose};
pub use bracket::{Bracket, Frame, bracket};
pub use check::ExposureError;
pub use flash::{Flash, FlashAnswer, FlashError, FlashRemark, Lamp, Power, Strength, guide_number_feet, metres};
pub use movement::{Mirror, Movement, Shake, Swept, shake};
pub use question::{Question, Reading};
pub use remark::{Forgiven, Remark};
