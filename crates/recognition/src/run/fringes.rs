//! Red and blue against green over the frame.

use measure::{EdgeReport, FringeSample, FringingOptions, FringingReport, edge_fringe, fringing};

use super::Run;
use super::sheets::Settled;
use crate::error::{Item, Why};
use crate::frame::Frame;
use crate::recognised::MeasuredEdge;

impl<F: Frame> Run<'_, F> {
    /// Fringing over the frame from every edge in colour.
    pub(super) fn fringing(&mut self, sheets: &[Settled]) -> Option<FringingReport> {
        let part = sheets[0].sheet.part;
        let pitch_um = self.units.pitch_um.unwrap_or(1.0);
        let (middle, negative) = (self.units.middle(), self.negative);
        let film = |px: f64| px * pitch_um / 1000.0;
        let sample = |edge: &MeasuredEdge| {
            let report: &EdgeReport = &edge.report;
            let fringe = edge_fringe(report, &measure::EdgeFringeOptions::default()).ok()?;
            Some(FringeSample {
                position_mm: (film(edge.place_px.0 - middle.0), film(edge.place_px.1 - middle.1)),
                normal_deg: edge.outward_deg + if negative { 180.0 } else { 0.0 },
                red_um: Some(fringe.red_px.times(pitch_um)),
                blue_um: Some(fringe.blue_px.times(pitch_um)),
            })
        };
        let samples: Vec<FringeSample> = self.edges.iter().filter_map(sample).collect();
        if samples.is_empty() {
            self.leave(part, Item::Fringing, None, Why::Grey);
            return None;
        }
        let frame = (film(f64::from(self.units.size.0)), film(f64::from(self.units.size.1)));
        match fringing(&samples, &FringingOptions::for_frame(frame.0, frame.1)) {
            Ok(report) => Some(report),
            Err(error) => {
                self.leave(part, Item::Fringing, None, Why::Fringing(error));
                None
            }
        }
    }
}
