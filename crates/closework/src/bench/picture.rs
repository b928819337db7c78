//! A predicted frame: what a set-up would make of the printed target card, or of a test card with a specimen on it or without, written
//! as a scan.

use std::ops::ControlFlow;
use std::path::Path;

use imaging::{TiffWriter, srgb_profile};
use rays::{SetUp, Wavelength};
use scene::{Blur, Capture, Grain, Laid, Placement, Scene, Settings, Specimen, TargetPaint, target_scene, test_card};
use target::{Card, Identity};

use super::{BenchError, draw, point_spreads};

/// 1000 samples to the inch, a usual scan of medium format.
pub const PITCH_UM: f64 = 25.4;
/// Blur of a fine-grained film and a flatbed scanner together, µm on film (standard deviation): a third of the contrast is left at
/// 25 lp/mm (common practice, no source).
const FILM_AND_SCANNER_UM: f64 = 9.0;
/// Cells of the traced spreads to a sample of the scan.
const CELLS_TO_A_SAMPLE: f64 = 6.0;
/// A specimen takes this share of the frame's shorter side.
const FILL: f64 = 0.7;
/// Fields that a drawn card can be made for, mm.
const CARDS_MM: [f64; 2] = [20.0, 2000.0];

/// What is in front of the lens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// A card of slanted squares and greys, alone.
    Card,
    /// The card that is printed, with its codes: the frame can be measured like a photograph of it.
    Target,
    /// A stag beetle on the card.
    Beetle,
    /// A seed pod on the card.
    Pod,
    /// A quartz group on the card.
    Crystal,
}

impl Subject {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Card, Self::Target, Self::Beetle, Self::Pod, Self::Crystal];

    /// Its word in forms and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Card => "card",
            Self::Target => "target",
            Self::Beetle => "beetle",
            Self::Pod => "pod",
            Self::Crystal => "crystal",
        }
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Card => "a test card of slanted squares and greys",
            Self::Target => "the printed target card, blades and a grey scale laid on where it has places for them",
            Self::Beetle => "a stag beetle on the test card",
            Self::Pod => "a seed pod on the test card",
            Self::Crystal => "a quartz group on the test card",
        }
    }

    /// By its word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|subject| subject.word() == word)
    }

    fn specimen(self) -> Option<Specimen> {
        match self {
            Self::Card | Self::Target => None,
            Self::Beetle => Some(Specimen::StagBeetle),
            Self::Pod => Some(Specimen::SeedPod),
            Self::Crystal => Some(Specimen::Crystal),
        }
    }
}

/// What is to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The glass.
    pub set_up: SetUp,
    /// The frame's sides on film, mm.
    pub frame_mm: [f64; 2],
    /// What lies in front.
    pub subject: Subject,
}

/// Draws it into a 16-bit TIFF; `heard` hears the share done and may stop it, and then nothing is left.
///
/// # Errors
///
/// When the set-up cannot be traced, its subject is far away, or the file cannot be written.
pub fn write(
    picture: &Picture,
    path: &Path,
    heard: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<ControlFlow<()>, BenchError> {
    let undrawn = |why: &dyn std::fmt::Display| BenchError::Undrawn(why.to_string());
    let system = picture.set_up.system(Wavelength::D)?;
    let magnification = system.magnification(Wavelength::D).ok_or(BenchError::Far)?;
    let field_mm = picture.frame_mm[0].min(picture.frame_mm[1]) / magnification;
    let scene = match picture.subject {
        Subject::Target => printed_card(picture.frame_mm.map(|side| CARD_SHARE * side / magnification))?,
        subject => {
            // Of a smaller field the card's middle is seen.
            let card_mm = field_mm.clamp(CARDS_MM[0], CARDS_MM[1]);
            let laid = subject.specimen().map(|which| Laid::in_place(which, FILL * field_mm, card_mm));
            test_card(card_mm, laid.as_slice()).map_err(|why| undrawn(&why))?
        }
    };
    let [width_px, height_px] = picture.frame_mm.map(|side| (side * 1000.0 / PITCH_UM).round() as u32);
    let capture = Capture::new(Settings {
        magnification,
        pitch_um: PITCH_UM,
        width_px,
        height_px,
        blur: Blur::even(FILM_AND_SCANNER_UM),
        grain: Grain { density_sd: 0.012, correlation_um: 12.0 },
        ..Settings::default()
    });
    let capture = capture.map_err(|why| undrawn(&why))?;
    let spreads = point_spreads(&picture.set_up, capture.corner_mm(), PITCH_UM / 1000.0 / CELLS_TO_A_SAMPLE)?;
    let part = path.with_extension("part");
    let ended = write_scan(&scene, &capture, &spreads, &part, heard);
    if matches!(ended, Ok(ControlFlow::Continue(()))) {
        std::fs::rename(&part, path).map_err(|why| undrawn(&why))?;
    } else {
        let _ = std::fs::remove_file(&part);
    }
    ended
}

/// What the printed card takes of the field: nobody frames it to a hair.
const CARD_SHARE: f64 = 0.96;
/// A grey scale of five fields, from the lightest (reflectances; own choice).
const GREYS: [f64; 5] = [0.85, 0.45, 0.2, 0.09, 0.04];

/// The card that is printed for a field, laid as it is meant to be.
fn printed_card(field_mm: [f64; 2]) -> Result<Scene, BenchError> {
    let undrawn = |why: &dyn std::fmt::Display| BenchError::Undrawn(why.to_string());
    let card = Card::new(field_mm, Identity::from_number(1)).map_err(|why| undrawn(&why))?;
    let sheets: Vec<_> = card.sheets.iter().map(|sheet| (sheet.clone(), Placement::meant(sheet))).collect();
    let paint = TargetPaint { blades: true, grey_scale: GREYS.to_vec(), ..TargetPaint::default() };
    target_scene(&sheets, &paint).map_err(|why| undrawn(&why))
}

/// Draws into a TIFF of 16 bits in sRGB, at the capture's own pitch.
pub fn write_scan(
    scene: &Scene,
    capture: &Capture,
    spreads: &scene::PointSpreads,
    path: &Path,
    heard: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<ControlFlow<()>, BenchError> {
    let undrawn = |why: imaging::ImagingError| BenchError::Undrawn(why.to_string());
    let Settings { width_px: width, height_px: height, pitch_um, .. } = *capture.settings();
    let mut writer = TiffWriter::create(path, width, height, Some(pitch_um), Some(&srgb_profile())).map_err(undrawn)?;
    let (mut done, mut failed) = (0.0, None);
    let ended = draw(scene, capture, spreads, &mut |samples| {
        for row in samples.chunks(width as usize * 3) {
            if let Err(why) = writer.write_row(row) {
                failed = Some(why);
                return ControlFlow::Break(());
            }
            done += 1.0;
        }
        heard(done / f64::from(height))
    })?;
    match failed {
        Some(why) => Err(undrawn(why)),
        None if ended.is_break() => Ok(ended),
        None => writer.finish().map_err(undrawn).map(|()| ended),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rays::{Draw, form};

    fn picture(draw: Draw) -> Picture {
        let lens = form("triplet-derived-1903").expect("in the library").scaled_to(160.0).expect("a size");
        let set_up = SetUp { draw, ..SetUp::alone(lens, 16.0) };
        Picture { set_up, frame_mm: [24.0, 18.0], subject: Subject::Card }
    }

    #[test]
    fn a_far_subject_is_refused_and_a_stopped_frame_leaves_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("frame.tif");
        let far = write(&picture(Draw::Extension { mm: 0.0 }), &path, &mut |_| ControlFlow::Continue(()));
        assert!(matches!(far, Err(BenchError::Far)), "{far:?}");
        let stopped = write(&picture(Draw::Magnification { ratio: 0.5 }), &path, &mut |_| ControlFlow::Break(()));
        assert_eq!(stopped.expect("no fault"), ControlFlow::Break(()));
        assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 0);
    }

    /// The file holds the frame at its pitch: 24 by 18 mm at 25.4 µm, and is neither black nor white.
    #[test]
    fn the_file_is_a_scan_of_the_frame() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("frame.tif");
        let drawn = write(&picture(Draw::Magnification { ratio: 0.5 }), &path, &mut |_| ControlFlow::Continue(()));
        assert_eq!(drawn.expect("no fault"), ControlFlow::Continue(()));
        let scan = imaging::Scan::open(&path).expect("a scan");
        assert_eq!((scan.info().width, scan.info().height), (945, 709));
        assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 1);
    }
}
