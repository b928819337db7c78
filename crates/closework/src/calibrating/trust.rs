//! How far plain figures are trusted, and why. All half-widths are of 95 %.

use super::entries::{CloseUpEntry, FrameEntry, Given, Number, PupilEntry, Reading};
use optics::Input;

/// A typed magnification: two ends of a ruler read in a scan or under a loupe, a fifth of a millimetre on 50 mm of film
/// each way (common practice, no source).
pub const MAGNIFICATION_SHARE: f64 = 0.005;

/// Pixels per millimetre as a measured ruler gives them: the marks are found far better, but the ruler lies square to
/// the axis to some 3° only, and the cosine of 3.6° is 0.998.
pub const PX_PER_MM_SHARE: f64 = 0.002;

/// Scanners keep to their stated resolution, and rulers to their millimetres, within some tenths of a per cent (common
/// practice, no source): this share errs alike in all frames of one scanner and one ruler.
pub const COMMON_SCALE_SHARE: f64 = 0.003;

/// A tape from the film mark to the ruler, mm (common practice, no source).
pub const DISTANCE_MM: f64 = 2.0;

/// The bright disc's rim is soft: with 2 % each way a ratio is good to 3 %, as the kit trusts a typed one.
pub const DISC_SHARE: f64 = 0.02;

/// A ruler beside the lens.
pub const PUPIL_SCALE_SHARE: f64 = 0.005;

/// From the camera to the ruler, mm: nobody sees the camera's own pupil (common practice, no source).
pub const CAMERA_MM: f64 = 10.0;

/// From the ruler's plane to the disc, mm, judged by eye (common practice, no source).
pub const DEPTH_MM: f64 = 3.0;

/// A travel read off a helical, mm: as in a set-up.
pub const TRAVEL_MM: f64 = 0.3;

impl Reading {
    /// The magnification, with what errs in this frame alone.
    pub fn magnification(&self) -> Input {
        match self {
            Self::Magnification(m) => m.input(MAGNIFICATION_SHARE * m.value.abs()),
            Self::Scan { px_per_mm, pitch_um } => {
                let scale = px_per_mm.input(PX_PER_MM_SHARE * px_per_mm.value.abs());
                let size = pitch_um / 1000.0;
                Input { value: scale.value * size, plus_minus: scale.plus_minus * size }
            }
        }
    }
}

/// The half-widths that plain numbers got, in words; empty when every number carries its own.
pub fn usual_words(given: &Given) -> Vec<String> {
    let readings = || {
        let pairs = given.close_ups.iter().flat_map(|pair| pair.without.iter().chain([&pair.with]));
        given.frames.iter().map(|frame| &frame.reading).chain(pairs)
    };
    let plain = |number: &Number| number.plus_minus.is_none();
    let some = |numbers: &mut dyn Iterator<Item = Option<Number>>| numbers.flatten().any(|number| plain(&number));
    let pupils = |of: fn(&PupilEntry) -> Option<Number>| some(&mut given.pupils.iter().map(of));
    let travel = |at: &super::At| match at {
        super::At::Travel(travel) => Some(*travel),
        _ => None,
    };
    let percent = |share: f64| (share * 1e4).round() / 1e2;
    let typed = readings().any(|reading| matches!(reading, Reading::Magnification(m) if plain(m)));
    let scanned = readings().any(|reading| matches!(reading, Reading::Scan { px_per_mm, .. } if plain(px_per_mm)));
    let travels = given.frames.iter().map(|frame: &FrameEntry| travel(&frame.at));
    let mut travels = travels.chain(given.close_ups.iter().map(|pair: &CloseUpEntry| travel(&pair.at)));
    let common = given.common_scale.is_none() && readings().next().is_some();
    let distances = some(&mut given.frames.iter().map(|frame| frame.subject_to_film_mm));
    let table = [
        (
            typed,
            format!(
                "a plain magnification ± {} %: a ruler's ends are read to a fifth of a millimetre",
                percent(MAGNIFICATION_SHARE)
            ),
        ),
        (
            scanned,
            format!("plain pixels per mm ± {} %: a ruler lies square to the axis to some 3°", percent(PX_PER_MM_SHARE)),
        ),
        (
            common,
            format!(
                "all magnifications alike ± {} %: a scanner keeps to its stated resolution, and a ruler to its millimetres, so well",
                percent(COMMON_SCALE_SHARE)
            ),
        ),
        (distances, format!("a plain distance from subject to film ± {DISTANCE_MM} mm: a tape held beside the camera")),
        (some(&mut travels), format!("a plain travel ± {TRAVEL_MM} mm: as read off a helical")),
        (
            pupils(|p| Some(p.diameter_px)),
            format!("a plain disc's diameter ± {} %: its rim is soft", percent(DISC_SHARE)),
        ),
        (pupils(|p| p.px_per_mm), format!("a plain scale of a photographed lens ± {} %", percent(PUPIL_SCALE_SHARE))),
        (pupils(|p| p.camera_mm), format!("a plain distance of the camera ± {CAMERA_MM} mm")),
        (pupils(|p| p.depth_mm), format!("a plain depth of the disc ± {DEPTH_MM} mm: judged by eye")),
    ];
    table.into_iter().filter(|(used, _)| *used).map(|(_, words)| words).collect()
}
