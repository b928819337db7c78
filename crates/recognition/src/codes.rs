//! Codes in a plane of grey: where they lie, what they say.

use planes::{Linear, Plane, srgb_encode};
use rxing::common::{DetectorRXingResult, GlobalHistogramBinarizer, HybridBinarizer};
use rxing::multi::qrcode::detector::MultiDetector;
use rxing::qrcode::decoder::{QRCodeDecoderMetaData, qrcode_decoder};
use rxing::{Binarizer, BinaryBitmap, DecodeHints, Luma8LuminanceSource};
use target::{CodeError, CodeText};

use crate::frame::reduced;

/// Reductions of the overview that are tried: the reader wants modules of about four to ten pixels, and blur and grain go away on
/// the way down.
const REDUCTIONS: [usize; 5] = [1, 2, 3, 4, 6];
/// Shorter side below which no code can be told, pixels: 21 modules and a quiet zone at three pixels.
const LEAST_SIDE: usize = 87;

/// A code of a card, as seen.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sighted {
    pub text: CodeText,
    /// Middles of its three finders, pixels: lower left, upper left, upper right as printed.
    pub finders: [(f64, f64); 3],
    /// Bright on dark.
    pub negative: bool,
}

/// Everything seen that looks like a code.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Sightings {
    pub codes: Vec<Sighted>,
    /// Texts of codes that are not ours.
    pub foreign: usize,
    pub later: usize,
    pub damaged: usize,
}

impl Sightings {
    /// From a reduced piece's pixels to the frame's.
    pub fn scale(&mut self, factor: f64, origin: (f64, f64)) {
        for finder in self.codes.iter_mut().flat_map(|code| &mut code.finders) {
            *finder = (origin.0 + factor * finder.0, origin.1 + factor * finder.1);
        }
    }

    /// Adds what another piece shows.
    pub fn merge(&mut self, other: Self) {
        for code in other.codes {
            if !self.codes.iter().any(|known| same(known, &code)) {
                self.codes.push(code);
            }
        }
        self.foreign += other.foreign;
        self.later += other.later;
        self.damaged += other.damaged;
    }

    /// All four codes of a sheet that is alone, or of all five sheets.
    pub fn complete(&self) -> bool {
        let sheets = if self.codes.iter().any(|code| code.text.part != target::Part::Whole) { 5 } else { 1 };
        self.codes.len() >= 4 * sheets
    }
}

/// Looks for codes in a plane, dark on bright first. It stops at the reduction that shows four corners of one sheet.
pub(crate) fn find(plane: &Plane<Linear>) -> Sightings {
    let mut seen = Sightings::default();
    let full = scale_of(plane);
    for negative in [false, true] {
        for factor in REDUCTIONS {
            if plane.width().min(plane.height()) / factor < LEAST_SIDE {
                break;
            }
            let small = reduced(plane, factor);
            let grey = greys(&small, full, negative);
            let size = (small.width() as u32, small.height() as u32);
            if let Some(source) = source(&grey, size) {
                read(HybridBinarizer::new(source), factor, negative, &mut seen);
            }
            if seen.complete() {
                return seen;
            }
            if let Some(source) = source(&grey, size) {
                read(GlobalHistogramBinarizer::new(source), factor, negative, &mut seen);
            }
            if seen.complete() {
                return seen;
            }
        }
        if !seen.codes.is_empty() {
            break;
        }
    }
    seen
}

/// The level that becomes white: what 99 % of the samples stay below.
fn scale_of(plane: &Plane<Linear>) -> f32 {
    let step = (plane.samples().len() / 20_000).max(1);
    let mut some: Vec<f32> = plane.samples().iter().step_by(step).copied().filter(|s| s.is_finite()).collect();
    some.sort_by(f32::total_cmp);
    some.get(some.len() * 99 / 100).copied().unwrap_or(1.0).max(1e-6)
}

/// Eight-bit greys as the eye would have them: the reader's thresholds are made for encoded pictures.
fn greys(plane: &Plane<Linear>, white: f32, negative: bool) -> Vec<u8> {
    // 4096 steps of linear light are finer than 8 encoded bits anywhere but in the deepest black.
    let table: Vec<u8> = (0..=4096).map(|i| (255.0 * srgb_encode(f64::from(i) / 4096.0)).round() as u8).collect();
    let grey = |sample: &f32| {
        let level = table[(sample / white * 4096.0).clamp(0.0, 4096.0) as usize];
        if negative { 255 - level } else { level }
    };
    plane.samples().iter().map(grey).collect()
}

fn source(grey: &[u8], (width, height): (u32, u32)) -> Option<Luma8LuminanceSource> {
    Luma8LuminanceSource::new(grey.to_vec(), width, height).ok()
}

fn read<B: Binarizer>(binarizer: B, factor: usize, negative: bool, seen: &mut Sightings) {
    let bitmap = BinaryBitmap::new(binarizer);
    let hints = DecodeHints { TryHarder: Some(true), ..DecodeHints::default() };
    // The library's own reader of several codes gives up all when one three of finders is no code: of many on a card
    // some three always are not. So its detector and its decoder are called one by one. Nothing found is no error here.
    let Ok(detected) = MultiDetector::new(bitmap.get_black_matrix()).detectMulti(&hints) else { return };
    for candidate in detected {
        let Ok(decoded) = qrcode_decoder::decode_bitmatrix_with_hints(candidate.getBits(), &hints) else { continue };
        let mut points = candidate.getPoints().to_vec();
        // A mirrored code is read all the same; its first and third finder then change places.
        let other = decoded.getOther();
        if let Some(meta) = other.as_ref().and_then(|other| other.downcast_ref::<QRCodeDecoderMetaData>()) {
            meta.applyMirroredCorrection(&mut points);
        }
        match CodeText::read(decoded.getText()) {
            Ok(text) => {
                let [a, b, c, ..] = points[..] else { continue };
                let finders = [a, b, c].map(|p| (f64::from(p.x) * factor as f64, f64::from(p.y) * factor as f64));
                let code = Sighted { text, finders, negative };
                if !seen.codes.iter().any(|known| same(known, &code)) {
                    seen.codes.push(code);
                }
            }
            Err(CodeError::Foreign) => seen.foreign += 1,
            Err(CodeError::Later) => seen.later += 1,
            Err(CodeError::Damaged) => seen.damaged += 1,
        }
    }
}

/// The same code of the same print at the same place; two copies of one sheet stay two.
fn same(a: &Sighted, b: &Sighted) -> bool {
    let side = (a.finders[0].0 - a.finders[1].0).hypot(a.finders[0].1 - a.finders[1].1);
    a.text == b.text && (a.finders[1].0 - b.finders[1].0).hypot(a.finders[1].1 - b.finders[1].1) < side
}
