//! What is handed in: test frames, and what shall be made of them.

use crate::error::CalibrationError;
use optics::Input;

/// Most frames that are fitted together: far beyond what a person takes of one lens, and still fitted at once.
pub const MOST_FRAMES: usize = 30;

/// Magnifications that a test frame of a photographic lens can have. Below, a ruler is too short to be measured; above,
/// the figure is more likely a slip than a lens.
pub const MAGNIFICATIONS: [f64; 2] = [0.001, 20.0];

/// Where the lens's own focusing stood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Focused {
    /// At its infinity mark.
    AtInfinityMark,
    /// At its closest mark: one more unknown, the travel there.
    AtClosestMark,
    /// This far forward of its infinity mark, mm, as read; each frame has its own reading.
    Travel(Input),
}

/// One length between body and lens. The same name in several frames is the same piece of metal: its error is common to
/// them. Two draws of a bellows are two lengths and need two names.
#[derive(Debug, Clone, PartialEq)]
pub struct Length {
    /// Its name.
    pub name: String,
    /// mm; a `plus_minus` of 0 means exact.
    pub length: Input,
}

/// A test frame: a ruler photographed with the lens the normal way round.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Its name; no two frames share one.
    pub id: String,
    /// What stood between body and lens; empty for nothing.
    pub extension: Vec<Length>,
    /// Where the lens's own focusing stood.
    pub focused: Focused,
    /// Measured magnification. What errs alike in all frames belongs into [`Options::common_scale`] instead.
    pub magnification: Input,
    /// Measured distance from subject to film, mm.
    pub distance: Option<Input>,
}

impl Frame {
    /// A frame at the infinity mark whose extension, mm, is shared with no other frame.
    pub fn new(id: impl Into<String>, extension: Input, magnification: Input) -> Self {
        let id = id.into();
        let nothing = extension.value == 0.0 && extension.plus_minus == 0.0;
        let length = Length { name: format!("extension of {id}"), length: extension };
        let extension = if nothing { Vec::new() } else { vec![length] };
        Self { id, extension, focused: Focused::AtInfinityMark, magnification, distance: None }
    }

    /// A frame at the infinity mark on lengths that other frames may share by name.
    pub fn on<'a>(
        id: impl Into<String>,
        lengths: impl IntoIterator<Item = (&'a str, Input)>,
        magnification: Input,
    ) -> Self {
        let extension = lengths.into_iter().map(|(name, length)| Length { name: name.to_owned(), length }).collect();
        Self { id: id.into(), extension, focused: Focused::AtInfinityMark, magnification, distance: None }
    }

    /// The same, focused elsewhere.
    #[must_use]
    pub fn focused(mut self, focused: Focused) -> Self {
        self.focused = focused;
        self
    }

    /// The same, with the distance from subject to film measured too.
    #[must_use]
    pub fn at_distance(mut self, distance: Input) -> Self {
        self.distance = Some(distance);
        self
    }

    /// The sum of what stood between body and lens, mm.
    pub fn extension_mm(&self) -> f64 {
        self.extension.iter().map(|length| length.length.value).sum()
    }
}

/// How to calibrate.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// The engraved focal length, mm, to compare with.
    pub marked: Option<Input>,
    /// Takes the engraved focal length for one more observation.
    pub use_marked: bool,
    /// Fits an offset of the infinity mark, mm, where the frames can tell it.
    pub fit_zero: bool,
    /// Leaves outliers out of the figures (they are named either way, and the other figures are given too).
    pub leave_out_outliers: bool,
    /// Half-width (95 %, as a share: 0.005 is half a per cent) of what is common to all measured magnifications, such
    /// as a scanner's pitch. No residual shows it, so it must be said; 0 for none.
    pub common_scale: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { marked: None, use_marked: false, fit_zero: false, leave_out_outliers: true, common_scale: 0.0 }
    }
}

/// Refuses an input that is no number, or whose half-width is.
fn number(place: &str, what: &'static str, input: Input) -> Result<(), CalibrationError> {
    if !input.value.is_finite() {
        return Err(CalibrationError::NotFinite { place: place.to_owned(), what, value: input.value });
    }
    if !input.plus_minus.is_finite() || input.plus_minus < 0.0 {
        return Err(CalibrationError::Uncertainty { place: place.to_owned(), what, plus_minus: input.plus_minus });
    }
    Ok(())
}

/// As [`number`], for what is measured: without an uncertainty it would outweigh everything.
pub(crate) fn measured(place: &str, what: &'static str, input: Input) -> Result<(), CalibrationError> {
    number(place, what, input)?;
    if input.plus_minus == 0.0 {
        return Err(CalibrationError::Uncertainty { place: place.to_owned(), what, plus_minus: 0.0 });
    }
    Ok(())
}

/// As [`measured`], above 0.
pub(crate) fn positive(place: &str, what: &'static str, input: Input) -> Result<(), CalibrationError> {
    measured(place, what, input)?;
    positive_or_exact(place, what, input)
}

/// As [`number`], above 0: what may be exact.
pub(crate) fn positive_or_exact(place: &str, what: &'static str, input: Input) -> Result<(), CalibrationError> {
    number(place, what, input)?;
    if input.value <= 0.0 {
        return Err(CalibrationError::NotPositive { place: place.to_owned(), what, value: input.value });
    }
    Ok(())
}

/// As [`number`], from 0 on: what may be exact.
pub(crate) fn not_negative(place: &str, what: &'static str, input: Input) -> Result<(), CalibrationError> {
    number(place, what, input)?;
    if input.value < 0.0 {
        return Err(CalibrationError::Negative { place: place.to_owned(), what, value: input.value });
    }
    Ok(())
}

/// As [`number`], of either sign: what may be exact.
pub(crate) fn any_sign(place: &str, what: &'static str, input: Input) -> Result<(), CalibrationError> {
    number(place, what, input)
}

/// A magnification within reason, above 0.
pub(crate) fn magnification(place: &str, input: Input) -> Result<(), CalibrationError> {
    positive(place, "magnification", input)?;
    let [least, most] = MAGNIFICATIONS;
    if !(least..=most).contains(&input.value) {
        return Err(CalibrationError::Magnification { place: place.to_owned(), value: input.value, least, most });
    }
    Ok(())
}

fn check_frame(frame: &Frame) -> Result<(), CalibrationError> {
    let id = &frame.id;
    magnification(id, frame.magnification)?;
    for (index, length) in frame.extension.iter().enumerate() {
        not_negative(id, "extension", length.length)?;
        if frame.extension[..index].iter().any(|other| other.name == length.name) {
            return Err(CalibrationError::LengthTwice { frame: id.clone(), name: length.name.clone() });
        }
    }
    if let Some(distance) = frame.distance {
        positive(id, "distance from subject to film", distance)?;
    }
    let travel = match frame.focused {
        Focused::AtInfinityMark => Some(0.0),
        Focused::AtClosestMark => None,
        Focused::Travel(travel) => {
            not_negative(id, "travel", travel)?;
            Some(travel.value)
        }
    };
    if travel.is_some_and(|travel| travel + frame.extension_mm() == 0.0) {
        return Err(CalibrationError::AtInfinity { frame: id.clone() });
    }
    Ok(())
}

/// Everything that can be said against the frames before computing.
pub(crate) fn check(frames: &[Frame], options: &Options) -> Result<(), CalibrationError> {
    if frames.is_empty() {
        return Err(CalibrationError::NoFrames);
    }
    if frames.len() > MOST_FRAMES {
        return Err(CalibrationError::TooManyFrames { count: frames.len(), most: MOST_FRAMES });
    }
    for (index, frame) in frames.iter().enumerate() {
        check_frame(frame)?;
        if frames[..index].iter().any(|other| other.id == frame.id) {
            return Err(CalibrationError::NameTwice { id: frame.id.clone() });
        }
    }
    check_lengths(frames)?;
    if let Some(marked) = options.marked {
        positive("the engraving", "focal length", marked)?;
    } else if options.use_marked {
        return Err(CalibrationError::NothingMarked);
    }
    if !(0.0..1.0).contains(&options.common_scale) {
        let (place, plus_minus) = ("the options".to_owned(), options.common_scale);
        return Err(CalibrationError::Uncertainty { place, what: "common scale", plus_minus });
    }
    Ok(())
}

/// One name, one length.
pub(crate) fn check_lengths<'a>(frames: impl IntoIterator<Item = &'a Frame>) -> Result<(), CalibrationError> {
    let mut lengths: Vec<&Length> = Vec::new();
    for length in frames.into_iter().flat_map(|frame| &frame.extension) {
        match lengths.iter().find(|known| known.name == length.name) {
            Some(known) if known.length != length.length => {
                let [first, second] = [known.length, length.length].map(|input| input.value);
                return Err(CalibrationError::LengthsDiffer { name: length.name.clone(), first, second });
            }
            Some(_) => {}
            None => lengths.push(length),
        }
    }
    Ok(())
}
