//! Which card it is: by its codes.

use planes::{Linear, Plane, Region};
use target::Sheet;

use crate::codes::{self, Sighted, Sightings};
use crate::error::RecogniseError;
use crate::frame::Frame;
use crate::recognised::Remark;

/// Full-resolution tiles in which codes are looked for where the overview shows too few, and how far they overlap.
const TILE_PX: u32 = 2400;
const OVERLAP_PX: u32 = 700;

/// Codes by the overview; where it is coarser than the frame and shows too few, by tiles at full resolution.
pub(super) fn sight<F: Frame>(
    frame: &mut F,
    overview: &Plane<Linear>,
    factor: u32,
) -> Result<Sightings, RecogniseError<F::Error>> {
    let mut seen = codes::find(overview);
    seen.scale(f64::from(factor), (0.0, 0.0));
    if factor == 1 || seen.complete() {
        return Ok(seen);
    }
    let (width, height) = frame.size();
    let stride = TILE_PX - OVERLAP_PX;
    for y in (0..height.saturating_sub(OVERLAP_PX).max(1)).step_by(stride as usize) {
        for x in (0..width.saturating_sub(OVERLAP_PX).max(1)).step_by(stride as usize) {
            let region = Region { x, y, width: TILE_PX.min(width - x), height: TILE_PX.min(height - y) };
            let tile = frame.region(region).map_err(RecogniseError::Frame)?.luminance();
            let mut found = codes::find(&tile);
            found.scale(1.0, (f64::from(x), f64::from(y)));
            seen.merge(found);
        }
    }
    Ok(seen)
}

/// The codes of one card.
pub(super) struct CardSeen {
    pub codes: Vec<Sighted>,
    pub parts: Vec<Sheet>,
    pub negative: bool,
}

/// The print of which most codes were read.
pub(super) fn one_card<E: std::error::Error>(
    seen: Sightings,
    remarks: &mut Vec<Remark>,
) -> Result<CardSeen, RecogniseError<E>> {
    let key = |code: &Sighted| (code.negative, code.text.identity, code.text.field_tenths);
    let mut kinds = Vec::new();
    for code in &seen.codes {
        match kinds.iter_mut().find(|(kind, _)| *kind == key(code)) {
            Some((_, count)) => *count += 1,
            None => kinds.push((key(code), 1)),
        }
    }
    let Some((best, _)) = kinds.iter().max_by_key(|(_, count)| *count).copied() else {
        return Err(match seen {
            Sightings { later: 1.., .. } => RecogniseError::LaterLayout,
            Sightings { damaged: 1.., .. } => RecogniseError::DamagedCode,
            Sightings { foreign: count @ 1.., .. } => RecogniseError::ForeignCodes { count },
            _ => RecogniseError::NoCode,
        });
    };
    if kinds.len() > 1 {
        remarks.push(Remark::OtherCards { count: kinds.len() - 1 });
    }
    let mut codes: Vec<Sighted> = Vec::new();
    // Two copies of one sheet: the first that was read of each corner counts.
    for code in seen.codes.into_iter().filter(|code| key(code) == best) {
        if codes.iter().all(|known| known.text != code.text) {
            codes.push(code);
        }
    }
    let mut parts: Vec<Sheet> = Vec::new();
    for code in &codes {
        let sheet = Sheet::of_code(&code.text).map_err(|_| {
            let [width_mm, height_mm] = code.text.field_tenths.map(|tenths| f64::from(tenths) / 10.0);
            RecogniseError::NoSuchCard { width_mm, height_mm }
        })?;
        if parts.iter().all(|known| known.part != sheet.part) {
            parts.push(sheet);
        }
    }
    parts.sort_by_key(|sheet| sheet.part);
    let negative = codes.iter().any(|code| code.negative);
    Ok(CardSeen { codes, parts, negative })
}
