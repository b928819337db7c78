//! With what a frame is measured: kept beside the figures, so that they can be made again.

use imaging::ToneChoice;
use planes::ToneCurve;
use serde::{Deserialize, Serialize};

use super::known::Known;
use super::negative::Negative;
use crate::documents::Measured;

/// What the kit says of the set-up with which a frame was taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetUp {
    /// Its parts in words.
    pub name: String,
    /// Size on film over size of the subject.
    pub magnification: Measured,
    /// F-number of the cone at the film.
    pub effective_f_number: Measured,
    /// Depth of field in all, mm; absent where it has no end.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub depth_mm: Option<Measured>,
    /// Discs up to this count as sharp in that depth, µm on film.
    pub circle_um: f64,
}

/// Everything that a frame's measurement depends on besides the file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// How numbers become light: "icc", "srgb", "linear" or "gamma=G".
    pub transfer: String,
    /// A picture without the printed card is refused; otherwise it is measured by the edges that are found.
    pub card_needed: bool,
    /// Size of a pixel on film, µm; the file's when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pitch_um: Option<f64>,
    /// Size on film over size of the subject, where there is no card to tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub magnification: Option<f64>,
    /// What the card's line of 100 mm measures in print.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_mm: Option<f64>,
    /// The card's trap was cut out over a dark box; otherwise it is printed black.
    pub trap_cut: bool,
    /// Reflectances of the fields of a grey scale that is stuck on a small card, the lightest first, 0 to 1.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub grey_scale: Vec<f64>,
    /// Detail that the print can show, line pairs per mm on film: the mean contrast is taken up to there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub print_limit_lp_mm: Option<f64>,
    /// The scan shows a negative, to be turned back into exposure; without this a negative's own tones are measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub negative: Option<Negative>,
    /// The scanner's responses, divided out.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub scanner: Vec<Known>,
    /// The film's response, divided out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub film: Option<Known>,
    /// Effective f-number at the film, for what misalignment explains.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effective_f_number: Option<f64>,
    /// From the entrance pupil to the subject, mm, for the card's lean.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pupil_to_subject_mm: Option<f64>,
    /// The set-up of the frame that the scan shows, where it is logged: what it should give stands beside what was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set_up: Option<SetUp>,
}

impl Settings {
    /// The f-number at the film: as stated, or the set-up's.
    pub fn at_the_film(&self) -> Option<f64> {
        self.effective_f_number.or(self.set_up.as_ref().map(|set_up| set_up.effective_f_number.value))
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            transfer: "icc".into(),
            card_needed: false,
            pitch_um: None,
            magnification: None,
            line_mm: None,
            trap_cut: false,
            grey_scale: Vec::new(),
            print_limit_lp_mm: None,
            negative: None,
            scanner: Vec::new(),
            film: None,
            effective_f_number: None,
            pupil_to_subject_mm: None,
            set_up: None,
        }
    }
}

/// How numbers become light, as it is typed: "icc", "srgb", "linear" or "gamma=G" with G above 0.
pub fn tone(text: &str) -> Option<ToneChoice> {
    let gamma = text.strip_prefix("gamma=").and_then(|number| number.parse::<f64>().ok());
    match (text, gamma.filter(|gamma| gamma.is_finite() && *gamma > 0.0)) {
        ("icc", _) => Some(ToneChoice::Icc),
        ("srgb", _) => Some(ToneChoice::Curve(ToneCurve::Srgb)),
        ("linear", _) => Some(ToneChoice::Curve(ToneCurve::Linear)),
        (_, Some(gamma)) => Some(ToneChoice::Curve(ToneCurve::Gamma(gamma))),
        _ => None,
    }
}

/// The same back in words.
pub fn tone_text(tone: ToneChoice) -> String {
    match tone {
        ToneChoice::Icc => "icc".into(),
        ToneChoice::Curve(ToneCurve::Srgb) => "srgb".into(),
        ToneChoice::Curve(ToneCurve::Linear) => "linear".into(),
        ToneChoice::Curve(ToneCurve::Gamma(gamma)) => format!("gamma={gamma}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_reads_back_and_nonsense_is_none() {
        for text in ["icc", "srgb", "linear", "gamma=2.2"] {
            assert_eq!(tone_text(tone(text).unwrap()), text);
        }
        for text in ["", "ICC", "gamma", "gamma=", "gamma=0", "gamma=-1", "gamma=NaN", "gamma=inf", "2.2"] {
            assert_eq!(tone(text), None, "{text}");
        }
    }

    #[test]
    fn settings_read_back_and_older_ones_are_filled_up() {
        let settings = Settings { print_limit_lp_mm: Some(20.0), trap_cut: true, ..Settings::default() };
        let text = serde_json::to_string(&settings).unwrap();
        assert_eq!(serde_json::from_str::<Settings>(&text).unwrap(), settings);
        assert_eq!(serde_json::from_str::<Settings>("{}").unwrap(), Settings::default());
    }
}
