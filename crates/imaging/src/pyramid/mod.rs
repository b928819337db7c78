//! The viewing pyramid: JPEG tiles of a scan at full size, half, quarter and so on.
//!
//! One pass over the stored rows. Each level keeps one band of display-ready rows (tile height x width x 1 or 3 bytes)
//! and one row of light that waits for its partner; a level is half as wide as the one before, so all bands together
//! take less than twice the first: 27 MB for a scan 8800 pixels wide, 92 MB for 30 000. Finished bands are cut into
//! tiles that are compressed on all cores, each holding its own tile and JPEG.
//!
//! Halving averages boxes of 2 x 2 pixels in linear light, counted from the shown picture's top left, whatever way the
//! file stores it; along an odd side the last box is half as wide. Tiles are sRGB for viewing, through the profile.
//!
//! Everything is written into a folder beside the wanted one (same name, ending `.part`) and renamed when complete.

mod level;
mod tiles;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use crate::error::{Fault, ImagingError};
use crate::scan::Scan;
use crate::source::whole;
use crate::tone::ToneChoice;

use level::{Level, halve};
use tiles::Painter;

const DESCRIPTION: &str = "pyramid.json";

/// How tiles are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Side of a tile in pixels.
    pub tile: u32,
    /// JPEG quality, 1 to 100.
    pub quality: u8,
}

impl Default for Options {
    fn default() -> Self {
        Self { tile: 512, quality: 85 }
    }
}

/// A finished pyramid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pyramid {
    /// Columns of level 0, as shown.
    pub width: u32,
    /// Rows of level 0, as shown.
    pub height: u32,
    /// Side of a tile in pixels; tiles at the right and lower edges may be smaller.
    pub tile: u32,
    /// Levels; the last fits into one tile.
    pub levels: u32,
}

impl Pyramid {
    fn new(width: u32, height: u32, tile: u32) -> Self {
        let mut pyramid = Self { width, height, tile, levels: 1 };
        let too_large = |(w, h): (u32, u32)| w > tile || h > tile;
        while pyramid.level_size(pyramid.levels - 1).is_some_and(too_large) {
            pyramid.levels += 1;
        }
        pyramid
    }

    /// Columns and rows of a level; `None` beyond the last.
    pub fn level_size(&self, level: u32) -> Option<(u32, u32)> {
        let halved = |side: u32| (0..level).fold(side, |s, _| s.div_ceil(2));
        (level < self.levels).then(|| (halved(self.width), halved(self.height)))
    }

    /// Columns and rows of tiles of a level; `None` beyond the last.
    pub fn grid(&self, level: u32) -> Option<(u32, u32)> {
        self.level_size(level).map(|(w, h)| (w.div_ceil(self.tile), h.div_ceil(self.tile)))
    }

    /// The file of a tile, relative to the pyramid's folder; `None` when there is no such tile.
    pub fn tile_name(&self, level: u32, column: u32, row: u32) -> Option<PathBuf> {
        let (columns, rows) = self.grid(level)?;
        (column < columns && row < rows).then(|| tile_name(level, column, row))
    }

    fn is_sound(&self) -> bool {
        self.width > 0 && self.height > 0 && self.tile > 0 && *self == Self::new(self.width, self.height, self.tile)
    }
}

fn tile_name(level: u32, column: u32, row: u32) -> PathBuf {
    PathBuf::from(level.to_string()).join(format!("{column}_{row}.jpg"))
}

/// Reads the description of a finished pyramid.
pub fn load(dir: &Path) -> Result<Pyramid, ImagingError> {
    let unusable = |why: String| Fault::Pyramid(why).at(dir);
    let text = std::fs::read_to_string(dir.join(DESCRIPTION)).map_err(|e| unusable(e.to_string()))?;
    let pyramid: Pyramid = serde_json::from_str(&text).map_err(|e| unusable(e.to_string()))?;
    if pyramid.is_sound() { Ok(pyramid) } else { Err(unusable("its description contradicts itself".into())) }
}

/// The file of a tile of a finished pyramid; `None` when the numbers name none.
pub fn tile_path(dir: &Path, level: u32, column: u32, row: u32) -> Option<PathBuf> {
    load(dir).ok()?.tile_name(level, column, row).map(|name| dir.join(name))
}

/// Makes the pyramid of a scan in the folder `out_dir`, which is replaced when it exists. `progress` hears the share
/// done, 0 to 1, and may break off: then nothing is left and the error is [`Fault::Cancelled`].
pub fn build(
    scan: &mut Scan,
    out_dir: &Path,
    options: Options,
    progress: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<Pyramid, ImagingError> {
    let options = Options { tile: tile_for(scan, options.tile), quality: options.quality.clamp(1, 100) };
    let pyramid = Pyramid::new(scan.info().width, scan.info().height, options.tile);
    let folder = Unfinished::create(out_dir).map_err(|fault| fault.at(out_dir))?;
    fill(scan, &folder.path, pyramid, options, progress)?;
    folder.finish(pyramid).map_err(|fault| fault.at(out_dir))?;
    Ok(pyramid)
}

/// Most bytes that the bands of tiles may take which wait to be complete, one in each level: together twice the
/// first level's.
const MAX_BAND_BYTES: u64 = 200 << 20;

/// The side of tiles: as wished, or smaller where the picture is so wide that a band of them would be too large.
fn tile_for(scan: &Scan, wished: u32) -> u32 {
    let row = 2 * u64::from(scan.stored().0) * scan.info().colour.channels() as u64;
    let mut tile = wished.clamp(16, 8192);
    while tile > 64 && row * u64::from(tile) > MAX_BAND_BYTES {
        tile /= 2;
    }
    tile
}

/// The folder under its temporary name, removed when dropped unfinished.
struct Unfinished {
    path: PathBuf,
    wanted: PathBuf,
}

impl Unfinished {
    fn create(wanted: &Path) -> Result<Self, Fault> {
        let mut name = wanted.file_name().unwrap_or_default().to_owned();
        name.push(".part");
        let path = wanted.with_file_name(name);
        // What a killed import left under this name is of no use to anybody.
        remove(&path)?;
        std::fs::create_dir_all(&path).map_err(Fault::Write)?;
        Ok(Self { path, wanted: wanted.into() })
    }

    fn finish(self, pyramid: Pyramid) -> Result<(), Fault> {
        let text = serde_json::to_string(&pyramid).map_err(|e| Fault::Pyramid(e.to_string()))?;
        std::fs::write(self.path.join(DESCRIPTION), text).map_err(Fault::Write)?;
        remove(&self.wanted)?;
        std::fs::rename(&self.path, &self.wanted).map_err(Fault::Write)
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        let _ = remove(&self.path);
    }
}

fn remove(folder: &Path) -> Result<(), Fault> {
    match std::fs::remove_dir_all(folder) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(Fault::Write(error)),
        _ => Ok(()),
    }
}

/// Rows between two reports of progress.
const REPORT_ROWS: u32 = 64;

fn fill(
    scan: &mut Scan,
    folder: &Path,
    pyramid: Pyramid,
    options: Options,
    progress: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<(), ImagingError> {
    let scan_path = scan.path().to_owned();
    let tone = scan.tone(ToneChoice::Icc);
    let (orientation, channels) = (scan.info().orientation, scan.info().colour.channels());
    let painter = Painter::new(tone.to_srgb, channels, orientation, options.quality, folder);
    let mut levels = Vec::new();
    for level in 0..pyramid.levels {
        std::fs::create_dir_all(folder.join(level.to_string())).map_err(|e| Fault::Write(e).at(folder))?;
        let (width, height) = pyramid.level_size(level).unwrap_or((1, 1));
        levels.push(Level::new(level, orientation.sides(width, height), orientation, options.tile, channels));
    }
    let stored = scan.stored();
    let (mut light, mut failed) = (Vec::new(), None);
    let mut take = |row: u32, samples: &[u16]| {
        if row.is_multiple_of(REPORT_ROWS) && progress(f64::from(row) / f64::from(stored.1)).is_break() {
            failed = Some(Fault::Cancelled.at(&scan_path));
            return ControlFlow::Break(());
        }
        tone.apply(samples, &mut light);
        match push(&mut levels, &light, &painter) {
            Ok(()) => ControlFlow::Continue(()),
            Err(fault) => {
                failed = Some(fault.at(folder));
                ControlFlow::Break(())
            }
        }
    };
    let read = scan.source().read(whole(stored), &mut take);
    match failed {
        Some(error) => Err(error),
        None => read.map_err(|fault| fault.at(&scan_path)).map(|()| {
            let _ = progress(1.0);
        }),
    }
}

/// Gives a row of light to the first level, and to each further one what the one before has halved.
fn push(levels: &mut [Level], light: &[f32], painter: &Painter<'_>) -> Result<(), Fault> {
    let Some((level, rest)) = levels.split_first_mut() else { return Ok(()) };
    level.add(light, painter)?;
    if rest.is_empty() {
        return Ok(());
    }
    match halve(level, light) {
        Some(half) => push(rest, &half, painter),
        None => Ok(()),
    }
}
