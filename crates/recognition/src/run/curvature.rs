//! A curved sharp surface: four ramps leave it open, the squares' sharpness tells.

use measure::{Channel, Figure, FlatPlace, SharpPlace, ThroughFocus, curved_surface, response_at};
use target::Part;

use super::Run;
use crate::error::{Item, Why};
use crate::frame::Frame;
use crate::recognised::{MeasuredEdge, Pose, RampFound};

/// A ramp's window may make up at most this share of the depth's square: beyond it the ramp tells no depth.
const MOST_WINDOW: f64 = 0.75;
/// Sides that a square needs: one alone may lie along the better direction.
const LEAST_SIDES: usize = 2;

impl<F: Frame> Run<'_, F> {
    /// The sharp surface with its curvature: the one that fits best, then perhaps one that is curved the other way.
    pub(super) fn curved(
        &mut self,
        ramps: &[RampFound],
        places: &[SharpPlace],
        (pose, part): (&Pose, Part),
        field_mm: (f64, f64),
    ) -> Vec<measure::AlignmentReport> {
        let curves: Vec<ThroughFocus> = ramps.iter().map(curve).collect();
        let detail = ramps.iter().map(|ramp| ramp.subject_lp_mm).sum::<f64>() / ramps.len() as f64;
        let flat = self.flat_places(detail, pose);
        match curved_surface(places, &curves, &flat, field_mm) {
            Ok(report) => report.surfaces,
            Err(error) => {
                self.leave(part, Item::Curvature, None, Why::Curvature(error));
                Vec::new()
            }
        }
    }

    /// The mean response of each square's sides at a detail, line pairs per true mm on the subject.
    fn flat_places(&self, detail: f64, pose: &Pose) -> Vec<FlatPlace> {
        let middle = self.units.middle();
        let per_mm = pose.scale_px_per_mm.mean.value;
        let mut squares: Vec<(Part, &'static str)> = self.edges.iter().map(|e| (e.part, e.square)).collect();
        squares.dedup();
        let of = |(part, square): (Part, &'static str)| {
            let sides = self.edges.iter().filter(|e| e.part == part && e.square == square);
            let told: Vec<((f64, f64), Figure)> =
                sides.filter_map(|e| Some((e.place_px, at_detail(e, detail)?))).collect();
            let place = |f: fn(&(f64, f64)) -> f64| told.iter().map(|(p, _)| f(p)).sum::<f64>() / told.len() as f64;
            let (x, y) = (place(|p| p.0), place(|p| p.1));
            Some(FlatPlace {
                position_mm: ((x - middle.0) / per_mm, (y - middle.1) / per_mm),
                response: of_sides(&told.iter().map(|t| t.1).collect::<Vec<_>>())?,
            })
        };
        squares.into_iter().filter_map(of).collect()
    }
}

/// Luminance's response at a detail on the subject.
fn at_detail(edge: &MeasuredEdge, detail: f64) -> Option<Figure> {
    let scale = edge.mtf50?;
    let cy_px = detail * scale.cy_px.value / scale.subject_lp_mm.value;
    let (value, plus_minus) = response_at(edge.report.channel(Channel::Luminance)?, cy_px)?;
    (value > 0.0 && plus_minus > 0.0).then(|| Figure::new(value, plus_minus))
}

/// Sides across one another mean what a surface between theirs would give: each counts alike, however sure it is.
fn of_sides(sides: &[Figure]) -> Option<Figure> {
    if sides.len() < LEAST_SIDES {
        return None;
    }
    let n = sides.len() as f64;
    let value = sides.iter().map(|f| f.value).sum::<f64>() / n;
    let plus_minus = sides.iter().map(|f| f.plus_minus.powi(2)).sum::<f64>().sqrt() / n;
    Some(Figure::new(value, plus_minus))
}

/// A ramp's curve without what its window of several bars adds: the variance of an even stretch is a twelfth of its square, and a
/// normal curve falls to a half at sqrt(2 ln 2) deviations.
fn curve(ramp: &RampFound) -> ThroughFocus {
    let depth = ramp.report.depth_mm;
    let window = 8.0 * std::f64::consts::LN_2 * ramp.window_mm.powi(2) / 12.0;
    let share = (window / depth.value.powi(2)).min(MOST_WINDOW);
    ThroughFocus { shape: ramp.report.shape, depth_mm: depth.times((1.0 - share).sqrt()) }
}
