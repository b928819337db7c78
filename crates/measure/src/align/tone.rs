//! Bringing one frame to another's tone.

use planes::{Linear, Plane};

use crate::numeric::quantile;

/// What shall be equal afterwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TonePoints {
    /// The middle tone: a gain alone, as another exposure would give.
    MiddleGrey,
    /// The darkest and the lightest 1 %: gain and offset, which also takes out veiling light. It hides differences in contrast
    /// and is for looking, not for judging.
    BlackAndWhite,
}

/// Light becomes gain · light + offset, in linear light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// Factor.
    pub gain: f64,
    /// Added, in shares of full scale; 0 for a gain alone.
    pub offset: f64,
}

impl Tone {
    /// Another frame's light in this tone.
    pub fn apply(&self, light: f32) -> f32 {
        (self.gain * f64::from(light) + self.offset) as f32
    }

    /// The gain in stops.
    pub fn stops(&self) -> f64 {
        self.gain.log2()
    }
}

/// Why tones could not be matched.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ToneError {
    /// A frame too dark for a gain.
    #[error(
        "the {frame} frame's middle tone is {middle:.5} of full scale, at least {least} is needed: it is all but black"
    )]
    Black {
        /// "first" or "second".
        frame: &'static str,
        /// As found.
        middle: f64,
        /// Needed.
        least: f64,
    },
    /// A frame without tones.
    #[error(
        "the {frame} frame's lights and shadows differ by {range:.5} of full scale, at least {least} is needed: it is flat"
    )]
    Flat {
        /// "first" or "second".
        frame: &'static str,
        /// As found.
        range: f64,
        /// Needed.
        least: f64,
    },
}

/// Darker than this a middle tone is the scanner's noise.
const LEAST_MIDDLE: f64 = 1e-4;
/// A smaller range is noise.
const LEAST_RANGE: f64 = 1e-3;
/// Share of pixels below the black and above the white point: dust and glints do not count.
const ENDS: f64 = 0.01;

/// What brings the second frame to the first one's tone. Give both over the same part of the subject.
pub fn match_tone(first: &Plane<Linear>, second: &Plane<Linear>, points: TonePoints) -> Result<Tone, ToneError> {
    let light = |plane: &Plane<Linear>| plane.samples().iter().map(|s| f64::from(*s)).collect::<Vec<_>>();
    let frames = [("first", light(first)), ("second", light(second))];
    match points {
        TonePoints::MiddleGrey => {
            let [a, b] = frames.map(|(frame, light)| (frame, quantile(&light, 0.5)));
            for (frame, middle) in [a, b] {
                if middle.is_nan() || middle < LEAST_MIDDLE {
                    return Err(ToneError::Black { frame, middle, least: LEAST_MIDDLE });
                }
            }
            Ok(Tone { gain: a.1 / b.1, offset: 0.0 })
        }
        TonePoints::BlackAndWhite => {
            let [a, b] = frames.map(|(frame, light)| (frame, quantile(&light, ENDS), quantile(&light, 1.0 - ENDS)));
            for (frame, black, white) in [a, b] {
                let range = white - black;
                if range.is_nan() || range < LEAST_RANGE {
                    return Err(ToneError::Flat { frame, range, least: LEAST_RANGE });
                }
            }
            let gain = (a.2 - a.1) / (b.2 - b.1);
            Ok(Tone { gain, offset: a.1 - gain * b.1 })
        }
    }
}
