//! The focus ramps, the surface that they show, and what of the corners' softness it explains.

use measure::{
    AlignmentOptions, Figure, SharpPlace, Softness, alignment, film_defocus_mm, response_at, softness_explained,
};
use planes::{Linear, Plane, Region};
use target::{Corner, Part, Ramp, Zone};

use super::sheets::Settled;
use super::{Outcome, Run, weighted};
use crate::error::{Item, Why};
use crate::frame::Frame;
use crate::ramps;
use crate::recognised::{CornerSoftness, MeasuredEdge, Pose, RampFound};
use crate::regions;
use crate::squares::View;

/// Wavelength for defocus: green light, mm.
const WAVELENGTH_MM: f64 = 0.55e-3;

impl<F: Frame> Run<'_, F> {
    pub(super) fn ramps(&mut self, settled: &Settled) -> Outcome<Vec<RampFound>, F> {
        let part = settled.sheet.part;
        let model = settled.model();
        let ramps: Vec<Ramp> = settled.sheet.ramps().cloned().collect();
        let mut wanted: Vec<(usize, Region)> = Vec::new();
        for (index, ramp) in ramps.iter().enumerate() {
            let region = ramps::outline(ramp, &model).and_then(|places| {
                let (from, to) = regions::around(&places, 2.0);
                regions::within(from, to, self.units.size)
            });
            match region {
                Some(region) => wanted.push((index, region)),
                None => self.leave(part, Item::Ramp(ramp.name), model.to_picture(ramp.centre), Why::OutsideFrame),
            }
        }
        let boxes: Vec<Region> = wanted.iter().map(|w| w.1).collect();
        let mut planes: Vec<(usize, Region, Plane<Linear>)> = Vec::new();
        for group in regions::by_rows(&boxes) {
            let pictures = self.read_all(&group.iter().map(|i| boxes[*i]).collect::<Vec<_>>())?;
            planes.extend(group.iter().zip(pictures).map(|(i, p)| (wanted[*i].0, wanted[*i].1, p.luminance())));
        }
        planes.sort_by_key(|p| p.0);
        let views: Vec<(View, &Ramp)> = planes
            .iter()
            .map(|(index, region, plane)| {
                let origin = (f64::from(region.x), f64::from(region.y));
                (View { plane, origin, factor: 1.0 }, &ramps[*index])
            })
            .collect();
        let mapping = &settled.geometry.mapping;
        let eye = match self.options.entrance_pupil_to_subject_mm {
            Some(distance) => ramps::Eye::at(mapping, distance.value / self.units.printed.value),
            None => {
                let field = settled.sheet.field_mm;
                ramps::eye(&views, &model, mapping, field[0].min(field[1]))
            }
        };
        let mut out = Vec::new();
        for (view, ramp) in &views {
            let place = model.to_picture(ramp.centre);
            let found = match eye {
                Some(eye) => ramps::follow(view, ramp, &model, eye, self.units.printed.value).map(|f| (f, eye)),
                None => Err(Why::NotSeen),
            };
            match (found, place) {
                (Ok((followed, eye)), Some(place_px)) => {
                    let printed = self.units.printed.value;
                    let height = followed.report.peak_height_mm.value / printed;
                    let sharpest_px = ramps::seen_at(ramp, height, &model, eye).unwrap_or(place_px);
                    out.push(ramps::found(part, ramp, (place_px, sharpest_px), followed, printed));
                }
                (Err(why), _) => self.leave(part, Item::Ramp(ramp.name), place, why),
                (Ok(_), None) => self.leave(part, Item::Ramp(ramp.name), place, Why::OutsideFrame),
            }
        }
        Ok(out)
    }

    pub(super) fn alignment(&mut self, ramps: &[RampFound], pose: &Pose, part: Part) -> Vec<measure::AlignmentReport> {
        // One tilted rule tells a height, and no slope: a small card has no room for more.
        if ramps.len() == 1 && ramps[0].name == "rule" {
            return Vec::new();
        }
        let middle = self.units.middle();
        let per_mm = pose.scale_px_per_mm.mean.value;
        let places: Vec<SharpPlace> = ramps
            .iter()
            .map(|ramp| SharpPlace {
                position_mm: ((ramp.sharpest_px.0 - middle.0) / per_mm, (ramp.sharpest_px.1 - middle.1) / per_mm),
                height_mm: ramp.report.peak_height_mm,
            })
            .collect();
        let field_mm = (f64::from(self.units.size.0) / per_mm, f64::from(self.units.size.1) / per_mm);
        // Four ramps at one distance from the middle cannot tell a curvature; five sheets' can.
        let curvature = places.len() > 4;
        let plane = match alignment(&places, &AlignmentOptions { field_mm, curvature }) {
            Ok(report) => report,
            Err(error) => {
                self.leave(part, Item::Alignment, None, Why::Alignment(error));
                return Vec::new();
            }
        };
        if plane.curvature_mm.is_some() {
            return vec![plane];
        }
        let curved = self.curved(ramps, &places, (pose, part), field_mm);
        if curved.is_empty() { vec![plane] } else { curved }
    }

    /// For each corner's square the share of its loss against the centre that its height off the sharp surface explains.
    pub(super) fn softness(
        &mut self,
        surface: &measure::AlignmentReport,
        otherwise: Option<&measure::AlignmentReport>,
        pose: &Pose,
    ) -> Vec<CornerSoftness> {
        let mut out = Vec::new();
        let luminance = |e: &MeasuredEdge, cy_px: f64| {
            let report = e.report.channel(measure::Channel::Luminance)?;
            response_at(report, cy_px).map(|(value, plus_minus)| Figure::new(value, plus_minus))
        };
        let central: Vec<&MeasuredEdge> = self.edges.iter().filter(|e| e.zone == Zone::Centre).collect();
        let fifties: Vec<Figure> = central.iter().filter_map(|e| e.mtf50.map(|m| m.cy_px)).collect();
        let Some(cy_px) = weighted(&fifties).map(|f| f.value) else { return out };
        let Some(sharp) = weighted(&central.iter().filter_map(|e| luminance(e, cy_px)).collect::<Vec<_>>()) else {
            return out;
        };
        let mut corners: Vec<(Part, &'static str)> = Vec::new();
        for edge in self.edges.iter().filter(|e| e.zone == Zone::Corner) {
            if Corner::ALL.iter().any(|c| c.name() == edge.square) && !corners.contains(&(edge.part, edge.square)) {
                corners.push((edge.part, edge.square));
            }
        }
        for (part, square) in corners {
            let members: Vec<&MeasuredEdge> =
                self.edges.iter().filter(|e| e.part == part && e.square == square).collect();
            let mean = |f: fn(&MeasuredEdge) -> f64| members.iter().map(|e| f(e)).sum::<f64>() / members.len() as f64;
            let place = (mean(|e| e.place_px.0), mean(|e| e.place_px.1));
            let Some(corner) = weighted(&members.iter().filter_map(|e| luminance(e, cy_px)).collect::<Vec<_>>()) else {
                continue;
            };
            let given = (self.units.pitch_um, pose.magnification, self.options.effective_f_number);
            let (Some(pitch), Some(magnification), Some(effective_f_number)) = given else {
                let what = if given.2.is_none() { "the effective f-number" } else { "the pixel pitch" };
                self.leave(part, Item::Softness(square), Some(place), Why::Needs(what));
                continue;
            };
            let middle = self.units.middle();
            let per_mm = pose.scale_px_per_mm.mean.value;
            let at = ((place.0 - middle.0) / per_mm, (place.1 - middle.1) / per_mm);
            let on_film = film_defocus_mm(1.0, magnification.value);
            let softness = |surface: &measure::AlignmentReport| Softness {
                cy_per_mm: cy_px * 1000.0 / pitch,
                wavelength_mm: WAVELENGTH_MM,
                effective_f_number,
                defocus_mm: surface.height_at(at).times(on_film),
                sharp_defocus_mm: surface.centre_mm.times(on_film),
                corner,
                sharp,
            };
            let otherwise = otherwise.and_then(|other| softness_explained(&softness(other)).ok());
            match softness_explained(&softness(surface)) {
                Ok(report) => {
                    let height_mm = surface.height_at(at);
                    out.push(CornerSoftness { square, part, height_mm, cy_px, report, otherwise });
                }
                Err(error) => self.leave(part, Item::Softness(square), Some(place), Why::Softness(error)),
            }
        }
        out
    }
}
