//! The rulers, as a check of the scale that the squares gave.

use measure::{ScaleOptions, scale};
use target::Ruler;

use super::sheets::Settled;
use super::{Outcome, Run};
use crate::error::{Item, Why};
use crate::frame::Frame;
use crate::recognised::RulerFound;
use crate::regions;
use crate::squares::Place;

/// Largest region that is read for one ruler, pixels: a ruler that runs slantwise is cut short.
const LARGEST_RULER_PX: f64 = 6e6;

impl<F: Frame> Run<'_, F> {
    pub(super) fn rulers(&mut self, settled: &Settled) -> Outcome<Vec<RulerFound>, F> {
        let mut out = Vec::new();
        let rulers: Vec<Ruler> = settled.sheet.rulers().cloned().collect();
        for ruler in &rulers {
            match self.ruler(settled, ruler)? {
                Ok(found) => out.push(found),
                Err(why) => {
                    let place = settled.model().to_picture(ruler.tick(ruler.ticks / 2).0);
                    self.leave(settled.sheet.part, Item::Ruler(ruler.name), place, why);
                }
            }
        }
        Ok(out)
    }

    fn ruler(&mut self, settled: &Settled, ruler: &Ruler) -> Outcome<Result<RulerFound, Why>, F> {
        let (width, height) = (f64::from(self.units.size.0), f64::from(self.units.size.1));
        let model = settled.model();
        let half_tick = ruler.lengths_mm[2];
        // The longest stretch of ticks that is wholly in the frame and not too large a region.
        let shown = |n: usize| {
            let (at, _) = ruler.tick(n);
            let far = |dx: f64, dy: f64| {
                model
                    .to_picture([at[0] + dx, at[1] + dy])
                    .is_some_and(|(x, y)| x > 2.0 && y > 2.0 && x < width - 2.0 && y < height - 2.0)
            };
            far(half_tick, 0.0) && far(-half_tick, 0.0) && far(0.0, half_tick) && far(0.0, -half_tick)
        };
        let inside: Vec<usize> = (0..ruler.ticks).filter(|n| shown(*n)).collect();
        let (Some(first), Some(last)) = (inside.first(), inside.last()) else { return Ok(Err(Why::OutsideFrame)) };
        let (mut first, mut last) = (*first, *last);
        let region = loop {
            let px_per_mm = settled.geometry.scale_px_per_mm.value;
            let places: Option<Vec<Place>> = [first, last].iter().map(|n| model.to_picture(ruler.tick(*n).0)).collect();
            let Some(places) = places else { return Ok(Err(Why::OutsideFrame)) };
            let (from, to) = regions::around(&places, 1.5 * half_tick * px_per_mm);
            let Some(region) = regions::within(from, to, self.units.size) else { return Ok(Err(Why::OutsideFrame)) };
            if f64::from(region.width) * f64::from(region.height) <= LARGEST_RULER_PX || last - first < 8 {
                break region;
            }
            let tenth = ((last - first) / 10).max(1);
            (first, last) = (first + tenth, last - tenth);
        };
        let picture = self.read(region)?;
        let place = |n: f64| {
            let share = n / (ruler.ticks - 1) as f64;
            let at = [0, 1].map(|i| ruler.first[i] + share * (ruler.last[i] - ruler.first[i]));
            model.to_picture(at).map(|(x, y)| (x - f64::from(region.x), y - f64::from(region.y)))
        };
        // A third of a tick before the first and after the last, so that both lie on the line.
        let (Some(from), Some(to)) = (place(first as f64 - 0.35), place(last as f64 + 0.35)) else {
            return Ok(Err(Why::OutsideFrame));
        };
        let options = ScaleOptions { from, to, tick_mm: ruler.tick_mm, pitch_um: None };
        let report = match scale(&picture, &options) {
            Ok(report) => report,
            Err(error) => return Ok(Err(Why::Ruler(error))),
        };
        let expected = (to.0 - from.0).hypot(to.1 - from.1) / ((last - first) as f64 + 0.7) / ruler.tick_mm;
        Ok(Ok(RulerFound {
            part: settled.sheet.part,
            name: ruler.name,
            expected_px_per_mm: expected,
            differs_percent: 100.0 * (report.px_per_mm / expected - 1.0),
            report,
        }))
    }
}
