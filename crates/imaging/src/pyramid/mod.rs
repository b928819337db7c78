//! The viewing pyramid: JPEG tiles of a scan at full size, half, quarter and so on.
//!
//! One pass over the stored rows, shared by all cores (`work.rs`): blocks of rows are decoded, painted with what each level
//! shows of them, and gathered until a band of tiles is complete, whose tiles are compressed. Memory goes with the
//! picture's width and not with its height: two bands of tiles on each level, that is less than 4 x width x tile height x 1
//! or 3 bytes, and at most 64 MB of decoded rows.
//!
//! Halving averages boxes of 2 x 2 pixels in linear light, counted from the shown picture's top left, whatever way the
//! file stores it; along an odd side the last box is half as wide. Tiles are sRGB for viewing, through the profile. Level 0
//! holds the scan's own pixels, none of them resampled, with colour at full resolution.
//!
//! Everything is written into a folder beside the wanted one (same name, ending `.part`) and renamed when complete, so that
//! whatever has the wanted name is whole, also when the program is killed. The next [`build`] removes what is left over.
//! Before it is renamed, all of it is handed to the disk (fsync), so that the same holds when the power fails; not covered
//! are file systems that cannot sync folders, and disks that say they have written what they have not.

mod jpeg;
mod level;
mod paint;
mod piece;
mod work;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use crate::error::{Fault, ImagingError};
use crate::scan::Scan;
use crate::tone::ToneChoice;

use level::Shape;
use paint::Painter;

pub use piece::{LONGEST_PIECE, MOST_ENLARGED, Piece, PieceLight, piece};

const DESCRIPTION: &str = "pyramid.json";
/// The layout of folder and description that is written; 1 was the same without saying so.
const VERSION: u32 = 2;

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
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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

/// What stands in the file beside the tiles.
#[derive(serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Description {
    #[serde(default = "first_version")]
    version: u32,
    width: u32,
    height: u32,
    tile: u32,
    levels: u32,
}

fn first_version() -> u32 {
    1
}

/// Reads the description of a finished pyramid.
pub fn load(dir: &Path) -> Result<Pyramid, ImagingError> {
    let unusable = |why: String| Fault::Pyramid(why).at(dir);
    let text = std::fs::read_to_string(dir.join(DESCRIPTION)).map_err(|e| unusable(e.to_string()))?;
    let Description { version, width, height, tile, levels } =
        serde_json::from_str(&text).map_err(|e| unusable(e.to_string()))?;
    if !(1..=VERSION).contains(&version) {
        return Err(unusable(format!("its layout is of version {version}, this program knows up to {VERSION}")));
    }
    let pyramid = Pyramid { width, height, tile, levels };
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

/// Most bytes that the bands of tiles may take which wait to be complete, one in each level: together less than twice
/// the first level's. As much again may wait to be compressed.
const MAX_BAND_BYTES: u64 = 100 << 20;

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
    /// Where a pyramid goes that is replaced.
    replaced: PathBuf,
}

impl Unfinished {
    fn create(wanted: &Path) -> Result<Self, Fault> {
        let beside = |ending: &str| {
            let mut name = wanted.file_name().unwrap_or_default().to_owned();
            name.push(ending);
            wanted.with_file_name(name)
        };
        let (path, replaced) = (beside(".part"), beside(".old"));
        // What a killed import left under these names is of no use to anybody.
        remove(&path)?;
        remove(&replaced)?;
        std::fs::create_dir_all(&path).map_err(Fault::Write)?;
        Ok(Self { path, wanted: wanted.into(), replaced })
    }

    fn finish(self, pyramid: Pyramid) -> Result<(), Fault> {
        let Pyramid { width, height, tile, levels } = pyramid;
        let description = Description { version: VERSION, width, height, tile, levels };
        let text = serde_json::to_string(&description).map_err(|e| Fault::Pyramid(e.to_string()))?;
        std::fs::write(self.path.join(DESCRIPTION), text).map_err(Fault::Write)?;
        sync(&self.path).map_err(Fault::Write)?;
        // A folder is removed file by file; under the wanted name it would pass for whole while that goes on.
        match std::fs::rename(&self.wanted, &self.replaced) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(Fault::Write(error)),
            _ => {}
        }
        std::fs::rename(&self.path, &self.wanted).map_err(Fault::Write)?;
        // The names, before the replaced pyramid goes.
        if let Some(folder) = self.wanted.parent() {
            sync_folder(if folder.as_os_str().is_empty() { Path::new(".") } else { folder }).map_err(Fault::Write)?;
        }
        remove(&self.replaced)
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        let _ = remove(&self.path);
    }
}

/// How many files the disk is asked for at the same time: what it does for one it does for those that wait as well.
const SYNCED_ABREAST: usize = 16;

/// Waits until the disk has everything in a folder.
fn sync(folder: &Path) -> std::io::Result<()> {
    let (mut files, mut folders) = (Vec::new(), vec![folder.to_owned()]);
    let mut at = 0;
    while let Some(folder) = folders.get(at) {
        at += 1;
        for entry in std::fs::read_dir(folder)?.collect::<Result<Vec<_>, _>>()? {
            if entry.file_type()?.is_dir() { &mut folders } else { &mut files }.push(entry.path());
        }
    }
    // Some systems sync only what is open for writing.
    let one = |file: &PathBuf| std::fs::OpenOptions::new().write(true).open(file)?.sync_data();
    let share = files.len().div_ceil(SYNCED_ABREAST).max(1);
    std::thread::scope(|scope| {
        let all: Vec<_> = files.chunks(share).map(|files| scope.spawn(|| files.iter().try_for_each(one))).collect();
        all.into_iter().try_for_each(|one| one.join().unwrap_or_else(|_| Err(std::io::ErrorKind::Other.into())))
    })?;
    folders.iter().try_for_each(|folder| sync_folder(folder))
}

/// Waits until the disk has a folder's names; where a folder cannot be opened or synced there is nothing to be done.
fn sync_folder(folder: &Path) -> std::io::Result<()> {
    use std::io::ErrorKind::{InvalidInput, PermissionDenied, Unsupported};
    match std::fs::File::open(folder).and_then(|folder| folder.sync_all()) {
        Err(error) if !matches!(error.kind(), InvalidInput | PermissionDenied | Unsupported) => Err(error),
        _ => Ok(()),
    }
}

fn remove(folder: &Path) -> Result<(), Fault> {
    match std::fs::remove_dir_all(folder) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(Fault::Write(error)),
        _ => Ok(()),
    }
}

fn fill(
    scan: &mut Scan,
    folder: &Path,
    pyramid: Pyramid,
    options: Options,
    progress: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<(), ImagingError> {
    if progress(0.0).is_break() {
        return Err(Fault::Cancelled.at(scan.path()));
    }
    let (orientation, channels) = (scan.info().orientation, scan.info().colour.channels());
    let mut sizes = Vec::new();
    for level in 0..pyramid.levels {
        std::fs::create_dir_all(folder.join(level.to_string())).map_err(|e| Fault::Write(e).at(folder))?;
        let (width, height) = pyramid.level_size(level).unwrap_or((1, 1));
        sizes.push(orientation.sides(width, height));
    }
    let painter = Painter::new(scan.tone(ToneChoice::Icc), channels, scan.words());
    let shape = Shape { sizes, channels, orientation, tile: options.tile };
    work::fill(scan, folder, painter, shape, options.quality, progress)?;
    let _ = progress(1.0);
    Ok(())
}
