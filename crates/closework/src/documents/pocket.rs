//! What `closework pocket` made.

use super::{MADE_BY, Uncertain};
use crate::pocket::{PocketCard, Row, Scale};
use serde::Serialize;

/// Cards that were written to a file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PocketDocument {
    file: String,
    cards: Vec<CardDocument>,
    made_by: &'static str,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct CardDocument {
    name: String,
    body: String,
    /// What `setting_mm` is: draw, travel or distance; `null` where nothing is set.
    scale: Option<&'static str>,
    f_numbers: Vec<f64>,
    coc_mm: f64,
    rows: Vec<RowDocument>,
    warnings: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct RowDocument {
    setting_mm: Option<f64>,
    magnification: Uncertain,
    field_mm: Option<[f64; 2]>,
    working_distance_mm: Uncertain,
    exposure_stops: Uncertain,
    /// One for each of `f_numbers`; `null` where it reaches to infinity.
    depth_of_field_mm: Vec<Option<f64>>,
}

impl PocketDocument {
    /// Of cards in the file of that name.
    pub fn of(cards: &[PocketCard], file: String) -> Self {
        Self { file, cards: cards.iter().map(card_of).collect(), made_by: MADE_BY }
    }
}

fn card_of(card: &PocketCard) -> CardDocument {
    let scale = match card.scale {
        Scale::Draw => Some("draw"),
        Scale::Travel => Some("travel"),
        Scale::Distance => Some("distance"),
        Scale::Fixed => None,
    };
    CardDocument {
        name: card.name.clone(),
        body: card.body.clone(),
        scale,
        f_numbers: card.f_numbers.clone(),
        coc_mm: card.coc_mm,
        rows: card.rows.iter().map(row_of).collect(),
        warnings: card.warnings.clone(),
    }
}

fn row_of(row: &Row) -> RowDocument {
    RowDocument {
        setting_mm: row.setting_mm,
        magnification: Some(row.magnification).into(),
        field_mm: row.field_mm,
        working_distance_mm: row.working_mm.into(),
        exposure_stops: Some(row.stops).into(),
        depth_of_field_mm: row.depths_mm.clone(),
    }
}
