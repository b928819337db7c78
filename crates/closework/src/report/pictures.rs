//! Pieces of every set-up's scan at one size of the subject and one tone: centre, half-way, corner.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use imaging::pyramid::{self, Piece, PieceLight, Pyramid};

use super::material::{Material, ReportTrouble, Scanned};
use super::model::{Figure, Item, Section, WIDTH_MM};
use crate::pieces::{FramePlace, one_tone};
use crate::web::fmt;

/// The places that are shown, left to right.
const COLUMNS: [&str; 3] = ["centre", "half-top-right", "top-right"];
const NAMES: [&str; 3] = ["centre", "half-way", "corner"];
/// Side of a piece as shown; at 54 mm that is 226 dots per inch.
const SIDE_PX: u32 = 480;
const QUALITY: u8 = 88;
/// Three side by side with gaps of 3 mm.
const SIDE_MM: f64 = (WIDTH_MM - 6.0) / 3.0;

/// A scan that can be shown.
struct Shown<'a> {
    scanned: &'a Scanned,
    px_per_mm: f64,
    pyramid: Pyramid,
    folder: std::path::PathBuf,
    name: String,
}

/// The section with the pictures. `heard` is told the share done, and says whether to go on.
pub fn pictures(m: &Material, heard: &(dyn Fn(f64) -> bool + Sync)) -> Result<Section, ReportTrouble> {
    let section = Section::new("pictures", "The pictures at one size of the subject");
    let shown = shown(m);
    if shown.is_empty() {
        return Ok(section.text(
            "No scan can be shown at a known size: say which frame each shows, and measure a ruler in it or enter its pitch and magnification.",
        ));
    }
    let piece_mm = piece_mm(&shown);
    let section = section.text(format!(
        "Each piece shows {} mm of the subject, brought to one exposure and colour balance column by column; contrast was left as it is. \
         Nothing was sharpened; what is coarser than the finest scan was enlarged.",
        fmt::figure(piece_mm, 3)
    ));
    let jobs: Vec<(usize, usize)> = (0..COLUMNS.len()).flat_map(|c| (0..shown.len()).map(move |s| (c, s))).collect();
    let lights = cut(&shown, piece_mm, &jobs, heard)?;
    let mut jpegs: Vec<Option<Vec<u8>>> = Vec::new();
    for column in lights.chunks(shown.len()) {
        jpegs.extend(compressed(column));
    }
    let rows = (0..shown.len()).map(|s| {
        let figures =
            (0..COLUMNS.len()).filter_map(|c| Some(figure(&shown[s], NAMES[c], jpegs[c * shown.len() + s].clone()?)));
        figures.collect::<Vec<Figure>>()
    });
    let mut section = section;
    for (row, one) in rows.zip(&shown) {
        section = section.with(Item::Heading { id: String::new(), text: one.name.clone() });
        section = match row.is_empty() {
            true => section.text("Its pieces could not be read."),
            false => section.with(Item::Figures(row)),
        };
    }
    Ok(section)
}

/// The newest scan of each frame of each set-up whose size is known and whose tiles are there.
fn shown(m: &Material) -> Vec<Shown<'_>> {
    let mut found = Vec::new();
    for set_up in &m.set_ups {
        for place in &set_up.scans {
            let scanned = &m.scans[*place];
            let folder = m.scans_folder.join(format!("{}.tiles", scanned.scan.stored));
            let (Some((px_per_mm, _)), Ok(pyramid)) = (scanned.px_per_mm, pyramid::load(&folder)) else { continue };
            let frame = scanned.frame.as_ref().map_or(0, |frame| frame.number);
            let name = format!("{}, frame {frame} ({})", set_up.name, scanned.scan.file_name);
            found.push(Shown { scanned, px_per_mm, pyramid, folder, name });
        }
    }
    found
}

/// The finest scan pixel for pixel, as long as that fits into a third of every scan.
fn piece_mm(shown: &[Shown<'_>]) -> f64 {
    let finest = shown.iter().map(|s| s.px_per_mm).fold(0.0, f64::max);
    let room = |s: &Shown<'_>| f64::from(s.pyramid.width.min(s.pyramid.height)) / s.px_per_mm / 3.0;
    shown.iter().map(room).fold(f64::from(SIDE_PX) / finest, f64::min)
}

/// Reads the pieces on all cores.
fn cut(
    shown: &[Shown<'_>],
    piece_mm: f64,
    jobs: &[(usize, usize)],
    heard: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Vec<Option<PieceLight>>, ReportTrouble> {
    let next = AtomicUsize::new(0);
    let done: Vec<Mutex<Option<PieceLight>>> = jobs.iter().map(|_| Mutex::new(None)).collect();
    let stopped = std::sync::atomic::AtomicBool::new(false);
    let work = || {
        while let Some((at, (column, s))) = {
            let at = next.fetch_add(1, Ordering::Relaxed);
            jobs.get(at).map(|job| (at, *job))
        } {
            if !heard(at as f64 / jobs.len() as f64) {
                stopped.store(true, Ordering::Relaxed);
                return;
            }
            let light = one(&shown[s], COLUMNS[column], piece_mm);
            *done[at].lock().unwrap_or_else(std::sync::PoisonError::into_inner) = light;
        }
    };
    let cores = std::thread::available_parallelism().map_or(1, usize::from).min(jobs.len());
    std::thread::scope(|scope| (0..cores).for_each(|_| drop(scope.spawn(work))));
    if stopped.into_inner() {
        return Err(ReportTrouble::Stopped);
    }
    let taken = |cell: Mutex<Option<PieceLight>>| cell.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    Ok(done.into_iter().map(taken).collect())
}

fn one(shown: &Shown<'_>, column: &str, piece_mm: f64) -> Option<PieceLight> {
    let side = piece_mm * shown.px_per_mm;
    let [x, y] = FramePlace::of(column)?.centre((shown.pyramid.width, shown.pyramid.height), side);
    let piece = Piece { centre: (x, y), step: side / f64::from(SIDE_PX), size: (SIDE_PX, SIDE_PX) };
    pyramid::piece(&shown.folder, &shown.pyramid, &piece).ok()
}

/// JPEGs of a column's pieces at one tone.
fn compressed(column: &[Option<PieceLight>]) -> Vec<Option<Vec<u8>>> {
    let there: Vec<PieceLight> = column.iter().flatten().cloned().collect();
    let mut gains = one_tone(&there).into_iter();
    column
        .iter()
        .map(|light| light.as_ref().zip(gains_for(light, &mut gains)).map(|(l, g)| l.jpeg(g, QUALITY)))
        .collect()
}

fn gains_for(light: &Option<PieceLight>, gains: &mut impl Iterator<Item = [f64; 3]>) -> Option<[f64; 3]> {
    light.as_ref().and_then(|_| gains.next())
}

fn figure(shown: &Shown<'_>, place: &str, jpeg: Vec<u8>) -> Figure {
    let words = format!("The {place} of {}", shown.name);
    let px = fmt::figure(shown.px_per_mm, 3);
    let scanned = shown.scanned.px_per_mm.map_or(String::new(), |_| format!(" ({px} px/mm)"));
    Figure::square(jpeg, SIDE_MM, words, format!("{place}{scanned}"))
}
