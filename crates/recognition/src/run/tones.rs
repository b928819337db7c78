//! Greys, the trap against its white, grain.

use planes::{Linear, Picture};
use target::Part;

use super::sheets::Settled;
use super::{Outcome, Run};
use crate::error::{Item, Why};
use crate::frame::Frame;
use crate::patches;
use crate::recognised::{Patch, PatchKind};
use crate::regions::{self, Blank};

/// A patch to be taken: middle, width and height on the sheet, and its meant reflectance.
type Wanted = (Item, PatchKind, [f64; 2], [f64; 2], Option<f64>);

impl<F: Frame> Run<'_, F> {
    /// Grey steps, white beside them, and the trap against its white.
    pub(super) fn tones(
        &mut self,
        settled: &Settled,
        blank: &Blank,
    ) -> Outcome<(Vec<Patch>, Option<measure::ContrastReport>), F> {
        let part = settled.sheet.part;
        let mut out = Vec::new();
        let mut wanted: Vec<Wanted> = settled
            .sheet
            .steps()
            .map(|s| (Item::Step(s.number), PatchKind::Step(s.number), s.centre, s.size_mm, Some(s.reflectance)))
            .collect();
        let traps = settled.sheet.traps().map(|t| {
            let own = if self.options.trap_cut_out { 0.0 } else { target::TRAP_PRINTED_REFLECTANCE };
            (Item::Trap, PatchKind::Trap, t.centre, [t.side_mm; 2], Some(own))
        });
        wanted.extend(traps);
        let beside = |centre: [f64; 2], size: f64| {
            [0.55, 0.4, 0.25].iter().find_map(|share| patches::blank_near(&settled.sheet, blank, centre, share * size))
        };
        let short = settled.sheet.size_mm[0].min(settled.sheet.size_mm[1]);
        if let Some(step) = settled.sheet.steps().next()
            && let Some(place) = beside(step.centre, 0.055 * short)
        {
            let room = blank.room_mm(place);
            wanted.push((Item::Step(0), PatchKind::White, place, [2.0 * room; 2], Some(patches::WHITE)));
        }
        let mut trap = None;
        for (item, kind, centre, size_mm, reflectance) in wanted {
            match self.patch(settled, centre, size_mm, (part, kind, reflectance))? {
                Ok((patch, picture)) => {
                    if kind == PatchKind::Trap {
                        trap = Some((picture, centre, size_mm[0]));
                    }
                    out.push(patch);
                }
                Err(why) => {
                    let place = settled.model().to_picture(centre);
                    self.leave(part, item, place, why);
                }
            }
        }
        let Some((trap, centre, size)) = trap else { return Ok((out, None)) };
        let Some(place) = beside(centre, size) else {
            self.leave(part, Item::Trap, None, Why::NotSeen);
            return Ok((out, None));
        };
        let room = blank.room_mm(place);
        let white = self.patch(settled, place, [2.0 * room; 2], (part, PatchKind::White, Some(patches::WHITE)))?;
        let glare = white.and_then(|(patch, white)| {
            out.push(patch);
            patches::glare(&trap, &white, self.options)
        });
        match glare {
            Ok(report) => Ok((out, Some(report))),
            Err(why) => {
                self.leave(part, Item::Trap, settled.model().to_picture(centre), why);
                Ok((out, None))
            }
        }
    }

    pub(super) fn patch(
        &mut self,
        settled: &Settled,
        centre: [f64; 2],
        size_mm: [f64; 2],
        what: (Part, PatchKind, Option<f64>),
    ) -> Outcome<Result<(Patch, Picture<Linear>), Why>, F> {
        let Some((middle, a, b)) = patches::patch_box(&settled.model(), centre, size_mm) else {
            return Ok(Err(Why::OutsideFrame));
        };
        let (from, to) = ((middle.0 - a, middle.1 - b), (middle.0 + a, middle.1 + b));
        let inside = from.0 >= 0.0
            && from.1 >= 0.0
            && to.0 <= f64::from(self.units.size.0)
            && to.1 <= f64::from(self.units.size.1);
        if !inside {
            return Ok(Err(Why::OutsideFrame));
        }
        let Some(region) = regions::within(from, to, self.units.size) else {
            return Ok(Err(Why::TooSmall { found: 0, least: patches::LEAST_PX }));
        };
        let picture = self.read(region)?;
        Ok(patches::patch(&picture, region, what, self.options).map(|patch| (patch, picture)))
    }

    /// Grain of the blank place with most room near the middle of the sheet.
    pub(super) fn grain(&mut self, settled: &Settled, blank: &Blank) -> Outcome<Option<crate::Grain>, F> {
        let part = settled.sheet.part;
        let short = settled.sheet.size_mm[0].min(settled.sheet.size_mm[1]);
        let worth = |p: &[f64; 2]| blank.room_mm(*p).min(0.05 * short) - 0.02 * p[0].hypot(p[1]);
        let places = blank.places(60, 0.02 * short);
        let Some(place) = places.into_iter().max_by(|a, b| worth(a).total_cmp(&worth(b))) else { return Ok(None) };
        let room = blank.room_mm(place).min(0.05 * short);
        let what = (part, PatchKind::White, Some(patches::WHITE));
        let grain = match self.patch(settled, place, [2.0 * room; 2], what)? {
            Ok((patch, picture)) => patches::grain(&picture, patch.region, self.options),
            Err(why) => Err(why),
        };
        match grain {
            Ok(grain) => Ok(Some(grain)),
            Err(why) => {
                self.leave(part, Item::Grain, settled.model().to_picture(place), why);
                Ok(None)
            }
        }
    }
}
