//! What is laid on a small card: blades, a grey scale, a tilted steel rule.

use planes::{Linear, Plane, Region};
use target::{Blade, GreyScale, Ramp, Rule};

use super::sheets::Settled;
use super::{Outcome, Run};
use crate::edges;
use crate::error::{Item, Why};
use crate::frame::Frame;
use crate::laid::{self, Field};
use crate::ramps::{self, Eye};
use crate::recognised::{MeasuredEdge, Patch, PatchKind, RampFound};
use crate::regions;
use crate::squares::{Place, View};

impl<F: Frame> Run<'_, F> {
    /// The edges of the blades that lie on their places.
    pub(super) fn blades(&mut self, settled: &Settled) -> Outcome<Vec<MeasuredEdge>, F> {
        let part = settled.sheet.part;
        let places: Vec<Blade> = settled.sheet.blades().cloned().collect();
        let mut out = Vec::new();
        for blade in &places {
            match self.blade(settled, blade)? {
                Ok(edge) => out.push(edge),
                Err(why) => {
                    let middle = [0, 1].map(|i| (blade.ends[0][i] + blade.ends[1][i]) / 2.0);
                    self.leave(part, Item::Blade(blade.name), settled.model().to_picture(middle), why);
                }
            }
        }
        Ok(out)
    }

    fn blade(&mut self, settled: &Settled, blade: &Blade) -> Outcome<Result<MeasuredEdge, Why>, F> {
        let (region, _, outward) = match laid::blade_region(blade, &settled.model(), self.units.size) {
            Ok(found) => found,
            Err(why) => return Ok(Err(why)),
        };
        let picture = self.read(region)?;
        let bare = match laid::blade_edge(&picture, region, outward, self.options) {
            Ok(bare) => bare,
            Err(why) => return Ok(Err(why)),
        };
        let centre = [0, 1].map(|i| (blade.ends[0][i] + blade.ends[1][i]) / 2.0);
        let at = (blade.name, centre);
        let edge = edges::placed(bare, settled.sheet.part, at, &settled.geometry.mapping, &self.units);
        Ok(Ok(MeasuredEdge { print_limit: None, ..edge }))
    }

    /// The fields of a grey scale that is stuck on.
    pub(super) fn stuck(&mut self, settled: &Settled) -> Outcome<Vec<Patch>, F> {
        let part = settled.sheet.part;
        let Some(scale) = settled.sheet.grey_scales().next().cloned() else { return Ok(Vec::new()) };
        let place = settled.model().to_picture(scale.centre);
        let fields = match self.grey_fields(settled, &scale)? {
            Ok(fields) => fields,
            Err(why) => {
                self.leave(part, Item::GreyScale, place, why);
                return Ok(Vec::new());
            }
        };
        let given = self.options.grey_scale.clone();
        if !given.is_empty() && given.len() != fields.len() {
            let why = Why::OtherFields { found: fields.len(), given: given.len() };
            self.leave(part, Item::GreyScale, place, why);
        }
        let stated = |i: usize| given.get(i).copied().filter(|_| given.len() == fields.len());
        let mut out = Vec::new();
        for (i, (centre, size_mm)) in fields.iter().enumerate() {
            match self.patch(settled, *centre, *size_mm, (part, PatchKind::Stuck(i + 1), stated(i)))? {
                Ok((patch, _)) => out.push(patch),
                Err(why) => self.leave(part, Item::GreyScale, settled.model().to_picture(*centre), why),
            }
        }
        Ok(out)
    }

    fn grey_fields(&mut self, settled: &Settled, scale: &GreyScale) -> Outcome<Result<Vec<Field>, Why>, F> {
        let model = settled.model();
        let [w, h] = scale.size_mm.map(|side| side / 2.0);
        let corners = [[-w, -h], [w, -h], [w, h], [-w, h]];
        let corners = corners.map(|[x, y]| model.to_picture([scale.centre[0] + x, scale.centre[1] + y]));
        let corners: Option<Vec<Place>> = corners.into_iter().collect();
        let Some((region, plane)) = self.seen(corners)? else { return Ok(Err(Why::OutsideFrame)) };
        Ok(laid::grey_fields(&view(region, &plane), scale, &model))
    }

    /// The tilted rule as a focus ramp.
    pub(super) fn rule(&mut self, settled: &Settled) -> Outcome<Option<RampFound>, F> {
        let Some(rule) = settled.sheet.rules().next().cloned() else { return Ok(None) };
        let place = settled.model().to_picture(rule.centre);
        let found = match place {
            Some(place) => self.tilted(settled, &rule, place)?,
            None => Err(Why::OutsideFrame),
        };
        match found {
            Ok(found) => Ok(Some(found)),
            Err(why) => {
                self.leave(settled.sheet.part, Item::Rule, place, why);
                Ok(None)
            }
        }
    }

    fn tilted(&mut self, settled: &Settled, rule: &Rule, place_px: Place) -> Outcome<Result<RampFound, Why>, F> {
        let model = settled.model();
        let outline = ramps::outline(&ramps::of_rule(rule, 1.0), &model);
        let Some((region, plane)) = self.seen(outline)? else { return Ok(Err(Why::OutsideFrame)) };
        let view = view(region, &plane);
        let printed = self.units.printed.value;
        let distance = self.options.entrance_pupil_to_subject_mm.map(|d| d.value / printed);
        let found = ramps::follow_rule(&view, rule, &model, &settled.geometry.mapping, (distance, printed));
        let (ramp, eye, followed): (Ramp, Eye, ramps::Followed) = match found {
            Ok(found) => found,
            Err(why) => return Ok(Err(why)),
        };
        let height = followed.report.peak_height_mm.value / printed;
        let sharpest_px = ramps::seen_at(&ramp, height, &model, eye).unwrap_or(place_px);
        Ok(Ok(ramps::found(settled.sheet.part, &ramp, (place_px, sharpest_px), followed, 1.0)))
    }

    /// The frame's pixels about some places, in luminance; `None` when none lies in the frame.
    fn seen(&mut self, places: Option<Vec<Place>>) -> Outcome<Option<(Region, Plane<Linear>)>, F> {
        let region = places.and_then(|places| {
            let (from, to) = regions::around(&places, 2.0);
            regions::within(from, to, self.units.size)
        });
        let Some(region) = region else { return Ok(None) };
        Ok(Some((region, self.read(region)?.luminance())))
    }
}

fn view(region: Region, plane: &Plane<Linear>) -> View<'_> {
    View { plane, origin: (f64::from(region.x), f64::from(region.y)), factor: 1.0 }
}
