//! What was measured in a scan, as far as the table tells it.

use std::collections::BTreeMap;

use notebook::{Measurement, MeasurementKind};
use serde::Deserialize;

use super::Column;
use crate::documents::{Bounded, EdgeDocument, Measured as Figure};

/// The newest measurement of the whole frame and of a single edge.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    whole: Option<Whole>,
    edge: Option<Edge>,
}

/// Of everything that a whole frame holds, what fits into a row.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(default)]
struct Whole {
    card: Option<Card>,
    zones: Vec<Zone>,
    fringing: Option<Fringing>,
    evenness: Option<Evenness>,
    contrast: BTreeMap<String, Contrast>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Card {
    identity: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Zone {
    zone: String,
    sharpness: BTreeMap<String, Sharpness>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Sharpness {
    mtf50_lp_mm: Option<Figure>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Fringing {
    channels: BTreeMap<String, Channel>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Channel {
    field: Vec<At>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct At {
    radial_um: Figure,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Evenness {
    falloff_stops: Figure,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Contrast {
    glare: Bounded,
}

#[derive(Debug, Clone, PartialEq)]
struct Edge {
    place: String,
    mtf50_cy_px: Option<f64>,
    plus_minus: Option<f64>,
}

impl Measured {
    /// Takes in a measurement; the one that comes last counts. What this version cannot read is left out.
    pub(in crate::records) fn take(&mut self, measurement: &Measurement) {
        match measurement.kind {
            MeasurementKind::Frame => {
                if let Ok(whole) = serde_json::from_str(&measurement.result) {
                    self.whole = Some(whole);
                }
            }
            MeasurementKind::Edge => {
                if let Ok(edge) = serde_json::from_str::<EdgeDocument>(&measurement.result) {
                    let channel = edge.main_channel();
                    self.edge = Some(Edge {
                        place: measurement.label.clone(),
                        mtf50_cy_px: channel.and_then(|channel| channel.mtf50_cy_px),
                        plus_minus: channel.and_then(|channel| channel.mtf50_plus_minus),
                    });
                }
            }
            MeasurementKind::Scale => {}
        }
    }

    /// The print of the card that was read.
    pub fn card(&self) -> Option<&str> {
        Some(self.whole.as_ref()?.card.as_ref()?.identity.as_str())
    }

    /// What a column says, and whether that is a number.
    pub(super) fn cell(&self, column: Column) -> Option<(String, bool)> {
        let number = |figure: Option<f64>| figure.map(|figure| (figure.to_string(), true));
        let value = |figure: Option<Figure>| number(figure.map(|figure| figure.value));
        let doubt = |figure: Option<Figure>| number(figure.map(|figure| figure.plus_minus));
        let edge = self.edge.as_ref();
        match column {
            Column::Card => self.card().map(|print| (print.to_owned(), false)),
            Column::CentreSharpness => value(self.sharpness("centre")),
            Column::CentreSharpnessDoubt => doubt(self.sharpness("centre")),
            Column::CornerSharpness => value(self.sharpness("corner")),
            Column::CornerSharpnessDoubt => doubt(self.sharpness("corner")),
            Column::RedFringe => value(self.fringe("red")),
            Column::RedFringeDoubt => doubt(self.fringe("red")),
            Column::BlueFringe => value(self.fringe("blue")),
            Column::BlueFringeDoubt => doubt(self.fringe("blue")),
            Column::FallOff => value(self.fall_off()),
            Column::FallOffDoubt => doubt(self.fall_off()),
            Column::Glare => number(self.glare().map(|glare| glare.value)),
            Column::GlareDoubt => number(self.glare().and_then(|glare| glare.plus_minus)),
            Column::EdgePlace => edge.map(|edge| (edge.place.clone(), false)),
            Column::EdgeSharpness => number(edge.and_then(|edge| edge.mtf50_cy_px)),
            Column::EdgeSharpnessDoubt => number(edge.and_then(|edge| edge.plus_minus)),
            _ => None,
        }
    }

    /// The sharpness of a zone, in the worst direction.
    fn sharpness(&self, zone: &str) -> Option<Figure> {
        let zone = self.whole.as_ref()?.zones.iter().find(|found| found.zone == zone)?;
        let figures = zone.sharpness.values().filter_map(|way| way.mtf50_lp_mm);
        figures.min_by(|a, b| a.value.total_cmp(&b.value))
    }

    /// Fringing in the corner, the last of the places.
    fn fringe(&self, colour: &str) -> Option<Figure> {
        Some(self.whole.as_ref()?.fringing.as_ref()?.channels.get(colour)?.field.last()?.radial_um)
    }

    fn fall_off(&self) -> Option<Figure> {
        Some(self.whole.as_ref()?.evenness.as_ref()?.falloff_stops)
    }

    fn glare(&self) -> Option<&Bounded> {
        Some(&self.whole.as_ref()?.contrast.get("luminance")?.glare)
    }
}
