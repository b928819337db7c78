//! From light to samples: glare, exposure, grain, clipping, encoding.

use crate::canvas::{Canvas, Grid};
use crate::capture::Capture;
use crate::grain::GrainField;
use crate::settings::Channel;
use crate::shape::{Point, Scene};
use planes::srgb_encode;

/// The light that glare adds everywhere, for red, green and blue, before the exposure: the stated share of the mean
/// over the frame, fall-off included.
pub(crate) fn glare_light(scene: &Scene, capture: &Capture) -> [f64; 3] {
    let share = capture.settings().veiling_glare;
    if share == 0.0 {
        return [0.0; 3];
    }
    Channel::ALL.map(|channel| share * mean_light(scene, capture, channel))
}

/// Cells along the longer side of the coarse grid on which the mean is taken. Coverage is exact on any grid; only the
/// shading within a cell is lost.
const COARSE_CELLS: f64 = 256.0;

fn mean_light(scene: &Scene, capture: &Capture, channel: Channel) -> f64 {
    let settings = capture.settings();
    let (width, height) = (f64::from(settings.width_px), f64::from(settings.height_px));
    let per_pixel = COARSE_CELLS / width.max(height);
    let (columns, rows) = ((width * per_pixel).ceil(), (height * per_pixel).ceil());
    let grid = Grid { capture, channel, cells_per_pixel: [columns / width, rows / height], margin: 0 };
    let mut canvas = Canvas::new(columns as usize, rows as usize);
    canvas.paint(&grid, &grid.flatten(scene), scene.background.0[channel.index()], 0, rows as usize);
    let falloff = |i: usize| {
        let cell = Point::new((i % columns as usize) as f64 + 0.5, (i / columns as usize) as f64 + 0.5);
        let pixel = Point::new(cell.x * width / columns, cell.y * height / rows);
        capture.falloff_at(capture.pixel_to_film(pixel))
    };
    let sum: f64 = canvas.cells.iter().enumerate().map(|(i, &light)| f64::from(light) * falloff(i)).sum();
    sum / canvas.cells.len() as f64
}

/// From light to samples: glare, exposure, grain, clipping, encoding.
pub(crate) struct Finish {
    glare: [f64; 3],
    exposure: f64,
    density_sd: f64,
    grain: GrainField,
    width: usize,
    capture: Capture,
    curve: EncodingTable,
}

impl Finish {
    pub fn new(scene: &Scene, capture: &Capture) -> Self {
        let s = capture.settings();
        Self {
            glare: glare_light(scene, capture),
            exposure: capture.exposure(),
            density_sd: s.grain.density_sd,
            grain: GrainField::new(s.seed, s.grain.correlation_um / s.pitch_um),
            width: s.width_px as usize,
            capture: *capture,
            curve: EncodingTable::new(),
        }
    }

    pub fn encode(&self, light: &[Vec<f32>; 3], first: usize, rows: usize) -> Vec<u16> {
        let mut samples = vec![0u16; 3 * rows * self.width];
        let negative = self.capture.settings().negative;
        for (channel, light) in light.iter().enumerate() {
            let grain = (self.density_sd > 0.0).then(|| self.grain.rows(channel, first, rows, self.width));
            for (i, &light) in light.iter().enumerate() {
                let strayed = self.glare[channel] + self.spot_light(i % self.width, first + i / self.width);
                let exposed = (f64::from(light) + strayed) * self.exposure;
                let exposed = negative.map_or(exposed, |film| film.transmittance(exposed));
                let exposed = grain.as_ref().map_or(exposed, |g| exposed * self.grain_factor(g[i]));
                samples[3 * i + channel] = self.curve.encode(exposed);
            }
        }
        samples
    }

    /// What the glare spot adds to a pixel.
    fn spot_light(&self, column: usize, row: usize) -> f64 {
        if self.capture.settings().glare_spot.is_none() {
            return 0.0;
        }
        self.capture.spot_light(self.capture.pixel_to_film(Point::new(column as f64 + 0.5, row as f64 + 0.5)))
    }

    /// Ten to the density, divided by its mean so that grain neither brightens nor darkens.
    fn grain_factor(&self, normal: f32) -> f64 {
        let sd = std::f64::consts::LN_10 * self.density_sd;
        (sd * f64::from(normal) - 0.5 * sd * sd).exp()
    }
}

/// The sRGB curve by straight pieces over the square root of light, whose errors stay below a hundredth of a step.
struct EncodingTable {
    values: Vec<f32>,
}

const ENCODING_PIECES: usize = 8192;

impl EncodingTable {
    fn new() -> Self {
        let value = |i: usize| {
            let root = i as f64 / ENCODING_PIECES as f64;
            (srgb_encode(root * root) * 65_535.0) as f32
        };
        Self { values: (0..=ENCODING_PIECES + 1).map(value).collect() }
    }

    fn encode(&self, light: f64) -> u16 {
        let at = light.clamp(0.0, 1.0).sqrt() * ENCODING_PIECES as f64;
        let piece = at as usize;
        let (a, b) = (self.values[piece], self.values[piece + 1]);
        // Adding one half and cutting off rounds; the conversion saturates.
        (a + (b - a) * (at - piece as f64) as f32 + 0.5) as u16
    }
}
