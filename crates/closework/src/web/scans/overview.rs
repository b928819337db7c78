//! A whole scan in linear light, small enough to be held: from the viewing pyramid.

use imaging::ToneChoice;
use imaging::pyramid;
use notebook::Scan;
use planes::{Linear, Plane, Region, ToneCurve};

use super::store;
use crate::web::App;

/// A scan on one level of its pyramid.
#[derive(Debug)]
pub struct Overview {
    /// Luminance.
    pub plane: Plane<Linear>,
    /// Pixels of the scan to one of the level.
    pub pixel: f64,
}

/// The finest level whose longer side is at most `longest` pixels. The tiles are JPEG: good for places and tones, not for sharpness figures.
pub fn overview(app: &App, scan: &Scan, longest: u32) -> Result<Overview, String> {
    let folder = store::tiles_of(app, &scan.stored);
    let p = pyramid::load(&folder).map_err(|error| error.to_string())?;
    let sized = |level: u32| Some((level, p.level_size(level)?));
    let fits = |(_, (width, height)): &(u32, (u32, u32))| *width.max(height) <= longest;
    let found = (0..p.levels).filter_map(sized).find(fits).or_else(|| sized(p.levels.saturating_sub(1)));
    let (level, (width, height)) = found.ok_or("it has no picture to look at")?;
    let (width, height) = (width as usize, height as usize);
    let mut samples = vec![0.0_f32; width * height];
    for row in 0..(height as u32).div_ceil(p.tile) {
        for column in 0..(width as u32).div_ceil(p.tile) {
            let name = p.tile_name(level, column, row).ok_or("one of its tiles has no name")?;
            let tile = read(&folder.join(name)).map_err(|error| error.to_string())?;
            let (left, top) = ((column * p.tile) as usize, (row * p.tile) as usize);
            for line in 0..tile.height().min(height - top) {
                let count = tile.width().min(width - left);
                samples[(top + line) * width + left..][..count].copy_from_slice(&tile.row(line)[..count]);
            }
        }
    }
    let plane = Plane::new(width, height, samples).map_err(|error| error.to_string())?;
    Ok(Overview { plane, pixel: f64::from(1_u32 << level) })
}

fn read(path: &std::path::Path) -> Result<Plane<Linear>, imaging::ImagingError> {
    let mut tile = imaging::Scan::open(path)?;
    let whole = Region { x: 0, y: 0, width: tile.info().width, height: tile.info().height };
    Ok(tile.read_linear(whole, ToneChoice::Curve(ToneCurve::Srgb))?.picture.luminance())
}
