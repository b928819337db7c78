//! Kits and short ways to ask them.

pub mod trace;

use kit::{Focus, Kit, Report, Setup, SetupError, SetupRequest};
use optics::{Estimate, Figure};

/// One entry of every kind, with every field, as the kit file is documented.
pub const EXAMPLE: &str = include_str!("example.toml");

/// A body with a register of 80 mm, a 100 mm lens whose every length is known, and things to put before and behind it.
/// Seat to H' is 80 − 100 = −20 (in front of the seat), H lies 6 mm further, the rim 60 mm in front of the seat: rim to
/// H is 34 mm.
pub const BENCH: &str = r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[lens]]
id = "lens"
mount = "m"
focal_length_mm = 100
max_aperture = 4
min_aperture = 32
pupil_ratio = 0.8
principal_separation_mm = 6
length_mm = 60
max_magnification = 0.2
thread_mm = 52
[[tube]]
id = "tube"
mount = "m"
length_mm = 30
[[bellows]]
id = "bellows"
mount = "m"
draw_mm = [40, 150]
[[close_up_lens]]
id = "two"
power_dpt = 2
thread_mm = 52
[[close_up_lens]]
id = "four"
power_dpt = 4
thread_mm = 52
gap_mm = 5
[[reversing_ring]]
id = "ring"
mount = "m"
thread_mm = 52
thickness_mm = 4
[[reversing_ring]]
id = "flat-ring"
mount = "m"
thread_mm = 52
"#;

/// A kit that must be right.
pub fn read(text: &str) -> Kit {
    Kit::parse(text).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// "a,b=85,c" at a focus, wide open.
pub fn request(parts: &str, focus: Focus) -> SetupRequest {
    let parts = parts.split(',').filter(|part| !part.is_empty()).map(Into::into).collect();
    SetupRequest { parts, focus, ..SetupRequest::default() }
}

pub fn report_of(kit: &Kit, request: &SetupRequest) -> Result<Report, SetupError> {
    Setup::resolve(kit, request)?.report()
}

/// The report of a set-up that must be right.
pub fn look(text: &str, parts: &str, focus: Focus) -> Report {
    report_of(&read(text), &request(parts, focus)).unwrap_or_else(|error| panic!("{parts}: {error}"))
}

/// A figure that must be finite.
pub fn estimate(report: &Report, figure: Figure) -> Estimate {
    report.figures.get(figure).unwrap_or_else(|| panic!("{} is infinite", figure.label()))
}

pub fn value(report: &Report, figure: Figure) -> f64 {
    estimate(report, figure).value
}

/// The warnings in words.
pub fn warned(report: &Report) -> Vec<String> {
    report.warnings.iter().map(ToString::to_string).collect()
}

/// Whether a text is one sentence that a command line can print on one line.
pub fn is_one_sentence(text: &str) -> bool {
    !text.contains('\n') && !text.contains(". ") && !text.ends_with('.') && text.len() < 320
}

/// Seeded chance: SplitMix64 (Steele, Lea & Flood, OOPSLA 2014; constants from memory).
pub struct Chance(pub u64);

impl Chance {
    pub fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) % limit as u64) as usize
    }
}
