//! `flash --json`

use super::Uncertain;
use super::exposure::{FilterDocument, filters};
use crate::exposing::{Sync, Taken};
use ::exposure::FlashAnswer;
use serde::Serialize;

/// `flash --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlashDocument {
    /// The engraved f-number that is right.
    f_number: Uncertain,
    /// The f-number in use against it: positive is too much light.
    error_stops: Uncertain,
    /// Flash to subject that would be right at the f-number in use.
    distance_m: Option<Uncertain>,
    /// The share of the present power that would be right at the f-number in use.
    power: f64,
    extension_stops: Uncertain,
    filter_stops: Uncertain,
    filters: Vec<FilterDocument>,
    short_loss_stops: Uncertain,
    /// First flash over second.
    ratio_stops: Option<f64>,
    sync: SyncDocument,
    warnings: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SyncDocument {
    /// "leaf", "body" or "unknown".
    shutter: &'static str,
    shortest_s: Option<f64>,
    speeds_s: Option<Vec<f64>>,
}

impl FlashDocument {
    /// The answer with its warnings in words.
    pub fn of(
        answer: &FlashAnswer,
        taken: &Taken,
        extension: optics::Estimate,
        sync: &Sync,
        warnings: Vec<String>,
    ) -> Self {
        Self {
            f_number: Some(answer.f_number).into(),
            error_stops: Some(answer.error_stops).into(),
            distance_m: answer.distance_m.map(|distance| Some(distance).into()),
            power: answer.power,
            extension_stops: Some(extension).into(),
            filter_stops: Some(taken.stops).into(),
            filters: filters(taken),
            short_loss_stops: Some(answer.short_loss_stops).into(),
            ratio_stops: answer.ratio_stops,
            sync: sync.into(),
            warnings,
        }
    }
}

impl From<&Sync> for SyncDocument {
    fn from(sync: &Sync) -> Self {
        match sync {
            Sync::Leaf(_) => Self { shutter: "leaf", shortest_s: None, speeds_s: None },
            Sync::Longest(shortest, speeds) => {
                Self { shutter: "body", shortest_s: Some(*shortest), speeds_s: Some(speeds.clone()) }
            }
            Sync::Unknown => Self { shutter: "unknown", shortest_s: None, speeds_s: None },
        }
    }
}
