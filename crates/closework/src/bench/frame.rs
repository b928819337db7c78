//! What every point of a frame becomes on film, ready to draw a frame through.

use rays::{AimError, Criterion, FilmLayers, Pencil, Question, SetUp, Spread, System, Wavelength};
use scene::{PointSpread, PointSpreads};

use super::BenchError;

/// Distances from the middle at which rays are traced. In between spreads change evenly enough.
const ZONES: usize = 14;
/// A little beyond the corner, where a drawing takes its surroundings from.
const BEYOND: f64 = 1.03;
/// Reach of a spread to either side, mm on film: light that strays farther is veil rather than blur.
const REACH_MM: f64 = 0.45;
/// Share of every spread's light that is drawn in its place; the little beyond is spread as the rest is.
const KEPT: f64 = 0.997;
/// Patterns by which the film is focused, cycles/mm, in the middle and a third of the way out: what a person does on a ground
/// glass who looks at the subject and not at the corners.
pub(super) const FOCUS_CYCLES_PER_MM: f64 = 11.0;
pub(super) const FOCUS_OUT_TO: f64 = 0.35;

/// The spreads over a frame whose corner lies `corner_mm` from its middle, on cells of `cell_mm`.
///
/// # Errors
///
/// When the set-up cannot be traced, or no light reaches the middle.
pub fn point_spreads(set_up: &SetUp, corner_mm: f64, cell_mm: f64) -> Result<PointSpreads, BenchError> {
    let layers = FilmLayers::usual().map_err(|why| BenchError::Colours(why.to_string()))?;
    let system = set_up.system(layers.spectrum.main_line())?;
    let places = [0.0, FOCUS_OUT_TO * corner_mm];
    let question = Question {
        film_mm: Vec::new(),
        cycles_per_mm: Vec::new(),
        spectrum: layers.spectrum.clone(),
        focus: Criterion::MostContrast { film_mm: places.to_vec(), cycles_per_mm: FOCUS_CYCLES_PER_MM },
    };
    // Focusing asks the main colour alone: a person's eye is sharpest there.
    let by_eye = Question { spectrum: rays::Spectrum::one(layers.spectrum.main_line()), ..question.clone() };
    let focus_mm = by_eye.focus(&system)?;
    let side = 2 * (REACH_MM / cell_mm).round() as usize + 1;
    let zones =
        traced(&Traced { system: &system, question: &question, layers: &layers, focus_mm, cell_mm, side }, corner_mm)?;
    Ok(PointSpreads::new(cell_mm, side, zones)?.trimmed(KEPT))
}

struct Traced<'a> {
    system: &'a System,
    question: &'a Question,
    layers: &'a FilmLayers,
    focus_mm: f64,
    cell_mm: f64,
    side: usize,
}

impl Traced<'_> {
    fn zone(&self, film_mm: f64) -> Result<(Pencil, PointSpread), AimError> {
        let pencil = self.question.pencil(self.system, film_mm, self.focus_mm)?;
        let spread = |weights: &Vec<f64>| pencil.spread(self.focus_mm, weights, self.cell_mm, self.side);
        let cells = |spread: Spread| spread.cells.iter().map(|cell| *cell as f32).collect::<Vec<f32>>();
        let colours = [0, 1, 2].map(|layer| cells(spread(&self.layers.weights[layer])));
        let light = pencil.light();
        Ok((pencil, PointSpread { film_mm, light, colours }))
    }
}

/// All zones, on as many threads as there are cores. A zone that no light reaches keeps the shape of the one before it.
fn traced(of: &Traced<'_>, corner_mm: f64) -> Result<Vec<PointSpread>, BenchError> {
    let radii: Vec<f64> = (0..ZONES).map(|i| BEYOND * corner_mm * i as f64 / (ZONES - 1) as f64).collect();
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let one = |thread: usize| -> Vec<(usize, Result<PointSpread, AimError>)> {
        let mine = radii.iter().enumerate().skip(thread).step_by(threads);
        mine.map(|(i, film_mm)| (i, of.zone(*film_mm).map(|(_, spread)| spread))).collect()
    };
    let mut found: Vec<(usize, Result<PointSpread, AimError>)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|thread| scope.spawn(move || one(thread))).collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap_or_default()).collect()
    });
    found.sort_by_key(|(i, _)| *i);
    let mut zones: Vec<PointSpread> = Vec::with_capacity(ZONES);
    for ((_, zone), film_mm) in found.into_iter().zip(&radii) {
        match (zone, zones.last()) {
            (Ok(zone), _) => zones.push(zone),
            (Err(_), Some(before)) => zones.push(PointSpread { film_mm: *film_mm, light: 0.0, ..before.clone() }),
            (Err(why), None) => return Err(why.into()),
        }
    }
    let axis = zones.first().map_or(1.0, |zone| zone.light);
    zones.iter_mut().for_each(|zone| zone.light /= axis);
    Ok(zones)
}

/// The line that set-ups are put together for.
pub(super) const LINE: Wavelength = Wavelength::D;

#[cfg(test)]
mod tests {
    use super::*;
    use rays::{Draw, form};
    use testkit::assert_close;

    /// By the trace itself (`rays`' own tests): this form on its own length of bellows loses a hundredth in the corner.
    #[test]
    fn light_falls_off_as_traced() {
        let lens = form("triplet-derived-1903").expect("in the library").scaled_to(160.0).expect("a size");
        let set_up = SetUp { draw: Draw::Magnification { ratio: 1.0 }, ..SetUp::alone(lens, 16.0) };
        let spreads = point_spreads(&set_up, 39.6, 0.0042).expect("spreads");
        assert_close!(spreads.light_at(0.0), 1.0, absolute = 1e-9);
        assert_close!(spreads.light_at(38.0), 0.99, absolute = 0.01);
    }

    #[test]
    fn a_set_up_without_light_in_the_middle_is_refused() {
        let lens = form("triplet-derived-1903").expect("in the library").scaled_to(160.0).expect("a size");
        let set_up = SetUp { draw: Draw::Magnification { ratio: -1.0 }, ..SetUp::alone(lens, 16.0) };
        assert!(point_spreads(&set_up, 39.6, 0.0042).is_err());
    }
}
