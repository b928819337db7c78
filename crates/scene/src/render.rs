//! From scene and capture to a 16-bit scan.
//!
//! The frame is made in bands of rows, so that memory does not grow with its height. In each band and colour the
//! shapes are painted by exact coverage on cells a third of a pixel wide; the blur then runs over the cells, along the
//! columns and along the rows, and gathers them into pixels on the way. A blur that differs along and across the
//! radius needs a third pass along one diagonal: every covariance that is not too narrow is the sum of one along x,
//! one along y and one along (1, 1) or (1, -1).

use crate::bands::Bands;
use crate::capture::Capture;
use crate::finish::Finish;
use crate::point_spread::{FittedSpreads, PointSpreadError, PointSpreads};
use crate::settings::Channel;
use crate::shape::Scene;
use planes::{Encoded, Linear, LumaWeights, Picture, Plane, Region, ShapeError, ToneCurve};
use std::ops::ControlFlow;

/// A finished scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Rendered {
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Red, green and blue of each pixel, row by row, encoded by the sRGB curve to 0 ..= 65 535.
    pub samples: Vec<u16>,
}

impl Rendered {
    /// A region as encoded planes, the way a reader of the file would see it. `None` outside the scan.
    pub fn encoded(&self, region: Region) -> Option<Result<Picture<Encoded>, ShapeError>> {
        region.lies_within(self.width, self.height).then(|| {
            let plane = |channel: usize| {
                Plane::from_fn(region.width as usize, region.height as usize, |c, r| {
                    let pixel = (region.y as usize + r) * self.width as usize + region.x as usize + c;
                    f32::from(self.samples[3 * pixel + channel]) / 65_535.0
                })
            };
            Picture::rgb([plane(0)?, plane(1)?, plane(2)?], LumaWeights::SRGB)
        })
    }

    /// A region in linear light. `None` outside the scan.
    pub fn linear(&self, region: Region) -> Option<Result<Picture<Linear>, ShapeError>> {
        self.encoded(region).map(|picture| picture.map(|p| ToneCurve::Srgb.to_linear(&p)))
    }

    /// The whole scan as a region.
    pub fn whole(&self) -> Region {
        Region { x: 0, y: 0, width: self.width, height: self.height }
    }
}

/// Draws the whole scan in memory. `progress` is told the share that is done and may stop the work: then `None`.
pub fn render(scene: &Scene, capture: &Capture, progress: &mut dyn FnMut(f64) -> ControlFlow<()>) -> Option<Rendered> {
    let settings = capture.settings();
    let (width, height) = (settings.width_px, settings.height_px);
    let mut samples = Vec::with_capacity(3 * width as usize * height as usize);
    let mut done = 0.0;
    let outcome = render_rows(scene, capture, &mut |rows| {
        samples.extend_from_slice(rows);
        done += rows.len() as f64;
        progress(done / (3.0 * f64::from(width) * f64::from(height)))
    });
    outcome.is_continue().then_some(Rendered { width, height, samples })
}

/// Draws the scan band by band from the top and hands over whole rows (red, green, blue of each pixel, sRGB-encoded).
/// `sink` may stop the work.
pub fn render_rows(
    scene: &Scene,
    capture: &Capture,
    sink: &mut dyn FnMut(&[u16]) -> ControlFlow<()>,
) -> ControlFlow<()> {
    Drawing::new(scene, capture).rows(sink)
}

/// A frame under way, whose bands may be asked for in any order: several drawings of it, on as many threads, share the work.
pub struct Drawing<'a> {
    bands: Bands<'a>,
    finish: Finish,
    height: usize,
}

impl<'a> Drawing<'a> {
    /// Through the capture's own blur.
    pub fn new(scene: &'a Scene, capture: &'a Capture) -> Self {
        Self::of(scene, capture, None)
    }

    /// Through blur of any shape, with the capture's own after it (film and scanner, relief and defocus).
    ///
    /// # Errors
    ///
    /// When the functions reach too far for the scan's pitch.
    pub fn through(
        scene: &'a Scene,
        capture: &'a Capture,
        spreads: &'a PointSpreads,
    ) -> Result<Self, PointSpreadError> {
        Ok(Self::of(scene, capture, Some(FittedSpreads::new(spreads, capture)?)))
    }

    fn of(scene: &'a Scene, capture: &'a Capture, spreads: Option<FittedSpreads<'a>>) -> Self {
        let height = capture.settings().height_px as usize;
        Self { bands: Bands::new(scene, capture, spreads), finish: Finish::new(scene, capture), height }
    }

    /// How many bands there are.
    pub fn count(&self) -> usize {
        self.height.div_ceil(self.bands.band_rows())
    }

    /// The whole rows of one band, counted from 0 (red, green, blue of each pixel, sRGB-encoded); none beyond the last.
    pub fn band(&mut self, number: usize) -> Vec<u16> {
        let first = number.saturating_mul(self.bands.band_rows());
        let rows = self.bands.band_rows().min(self.height.saturating_sub(first));
        if rows == 0 {
            return Vec::new();
        }
        let light = Channel::ALL.map(|channel| self.bands.light(channel, first, rows));
        self.finish.encode(&light, first, rows)
    }

    /// All bands from the top. `sink` may stop the work.
    pub fn rows(&mut self, sink: &mut dyn FnMut(&[u16]) -> ControlFlow<()>) -> ControlFlow<()> {
        (0..self.count()).try_for_each(|number| sink(&self.band(number)))
    }
}
