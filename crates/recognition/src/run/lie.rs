//! How the card lies in the picture.

use measure::{Figure, LocalScale, TiltOptions, tilt};

use super::sheets::Settled;
use super::{Run, weighted};
use crate::error::{Item, Why};
use crate::frame::Frame;
use crate::recognised::Pose;

impl<F: Frame> Run<'_, F> {
    /// The sheet that the frame's middle shows, or else the one nearest to it, and the place on it.
    fn central<'s>(&self, sheets: &'s [Settled]) -> (&'s Settled, [f64; 2]) {
        let place = |s: &Settled| s.geometry.mapping.to_plane(self.units.middle());
        let beyond = |s: &Settled| {
            place(s).map_or(f64::MAX, |(x, y)| {
                let over = [x.abs() - s.sheet.size_mm[0] / 2.0, y.abs() - s.sheet.size_mm[1] / 2.0];
                over[0].max(over[1])
            })
        };
        let best = sheets.iter().min_by(|a, b| beyond(a).total_cmp(&beyond(b))).unwrap_or(&sheets[0]);
        let at = if beyond(best) <= 0.0 { place(best).map_or([0.0; 2], |(x, y)| [x, y]) } else { [0.0; 2] };
        (best, at)
    }

    pub(super) fn pose(&mut self, sheets: &[Settled]) -> Pose {
        let (central, at) = self.central(sheets);
        let mapping = &central.geometry.mapping;
        let [[a, b], [c, d]] = mapping.jacobian((at[0], at[1])).unwrap_or([[1.0, 0.0], [0.0, 1.0]]);
        let mirrored = a * d - b * c < 0.0;
        // The card's upward direction in the picture, as seen once a mirrored picture is put right.
        let (up_x, up_y) = (if mirrored { b } else { -b }, -d);
        let turn = up_x.atan2(-up_y).to_degrees();
        let quarters = (turn / 90.0).round().rem_euclid(4.0);
        let lean_deg = (turn - 90.0 * (turn / 90.0).round()).clamp(-45.0, 45.0);
        let printed = self.units.printed;
        let true_scale = |f: Figure| {
            let value = f.value / printed.value;
            Figure::new(value, value * (f.plus_minus / f.value).hypot(printed.plus_minus / printed.value))
        };
        let local = central.geometry.scale_at((at[0], at[1])).unwrap_or(LocalScale {
            along_x: central.geometry.scale_px_per_mm,
            along_y: central.geometry.scale_px_per_mm,
            mean: central.geometry.scale_px_per_mm,
        });
        // A turn is as sure as a scale: both are a relative change of the same derivative.
        let turn_doubt = (local.along_y.plus_minus / local.along_y.value).to_degrees();
        let scale_px_per_mm = LocalScale {
            along_x: true_scale(local.along_x),
            along_y: true_scale(local.along_y),
            mean: true_scale(local.mean),
        };
        let middle = self.units.middle();
        let offset = central.sheet.offset_mm;
        let field_middle = mapping.to_picture((-offset[0], -offset[1])).unwrap_or(middle);
        let shift_px = (field_middle.0 - middle.0, field_middle.1 - middle.1);
        let per_mm = scale_px_per_mm.mean.value;
        let tilt = match self.options.entrance_pupil_to_subject_mm {
            None => Err(Why::Needs("the distance from the entrance pupil to the subject")),
            Some(distance) => {
                // The mapping is in printed millimetres, so the distance is brought to them too.
                let entrance_pupil_to_subject_mm = distance.times(1.0 / printed.value);
                tilt(&central.geometry, &TiltOptions { entrance_pupil_to_subject_mm }).map_err(Why::Tilt)
            }
        };
        let part = central.sheet.part;
        let residual_px = central.geometry.scatter_px;
        let tilt = tilt.map_err(|why| self.leave(part, Item::Tilt, None, why)).ok();
        let bends: Vec<Figure> = sheets.iter().filter_map(|s| s.geometry.corner_distortion_percent).collect();
        Pose {
            mirrored,
            turn_deg: Figure::new(turn, turn_doubt),
            quarter_turns: quarters as u8,
            lean_deg,
            scale_px_per_mm,
            magnification: self.options.pitch_um.map(|pitch| scale_px_per_mm.mean.times(pitch / 1000.0)),
            shift_mm: (shift_px.0 / per_mm, shift_px.1 / per_mm),
            shift_px,
            distortion_percent: weighted(&bends),
            tilt,
            residual_px,
        }
    }
}
