//! Every sheet squared up by its squares, whose edges are measured on the way.

use measure::GeometryReport;
use planes::{Linear, Picture, Region};
use target::{Part, Sheet, Square};

use super::card::CardSeen;
use super::{LEAST_SQUARES, Outcome, Run};
use crate::codes::Sighted;
use crate::edges::{self, Bare};
use crate::error::{Item, RecogniseError, Why};
use crate::frame::Frame;
use crate::pose::{self, Cornered, Model};
use crate::recognised::{SheetFound, SquareFound};
use crate::regions;
use crate::squares::{Missing, Place, View, mean};

/// A sheet with its geometry.
pub(super) struct Settled {
    pub sheet: Sheet,
    pub codes: Vec<Sighted>,
    pub geometry: GeometryReport,
    pub found: Vec<Cornered>,
}

impl Settled {
    pub fn model(&self) -> Model {
        Model::Full(self.geometry.mapping)
    }

    /// What is told of it.
    pub fn found(self) -> SheetFound {
        let squares: Vec<&Square> = self.sheet.squares().collect();
        let square = |(i, f): (usize, &Cornered)| {
            let residuals = &self.geometry.residuals_px[4 * i..4 * i + 4];
            let residual_px = residuals.iter().map(|r| r.0.hypot(r.1)).fold(0.0, f64::max);
            SquareFound { name: squares[f.square].name, corners_px: f.corners, residual_px }
        };
        SheetFound {
            part: self.sheet.part,
            codes: self.codes.iter().map(|c| c.text.corner).collect(),
            squares: self.found.iter().enumerate().map(square).collect(),
            geometry: self.geometry,
        }
    }
}

/// White about a square that is read with it, as a share of its side: its sides are looked for in 0.27 of it, and its edges measured
/// in 0.28.
const MARGIN: f64 = 0.33;

/// An edge of a square, or what kept it from being measured: the side and where it lies.
type Edge = Result<Bare, (usize, Place, Why)>;

/// Squares found, their edges by square, and squares that were not found.
#[derive(Default)]
struct Seen {
    found: Vec<Cornered>,
    bare: Vec<(usize, Edge)>,
    missing: Vec<(usize, Option<Place>, Why)>,
}

impl<F: Frame> Run<'_, F> {
    /// Every sheet, squared up, with its edges.
    pub(super) fn sheets(&mut self, view: &View, card: &CardSeen) -> Outcome<Vec<Settled>, F> {
        let mut out = Vec::new();
        let mut refusal = RecogniseError::TooFewSquares { found: 0, least: LEAST_SQUARES };
        for sheet in &card.parts {
            let codes: Vec<Sighted> =
                card.codes.iter().filter(|c| card.parts.len() == 1 || c.text.part == sheet.part).cloned().collect();
            match self.sheet(view, sheet, codes)? {
                Ok(settled) => out.push(settled),
                Err(why) => {
                    refusal = match &why {
                        Why::TooFew { found, least } => RecogniseError::TooFewSquares { found: *found, least: *least },
                        Why::Geometry(error) => RecogniseError::Geometry(error.clone()),
                        _ => refusal,
                    };
                    self.leave(sheet.part, Item::Sheet, None, why);
                }
            }
        }
        if out.is_empty() {
            return Err(refusal);
        }
        // Sheets of a large card none of whose codes was read.
        if card.parts[0].part != Part::Whole {
            for part in &Part::ALL[1..] {
                if card.parts.iter().all(|sheet| sheet.part != *part) {
                    self.leave(*part, Item::Sheet, None, Why::NotRead);
                }
            }
        }
        Ok(out)
    }

    fn sheet(&mut self, view: &View, sheet: &Sheet, codes: Vec<Sighted>) -> Outcome<Result<Settled, Why>, F> {
        let too_few = |found| Why::TooFew { found, least: LEAST_SQUARES };
        let Some(rough) = pose::grow(view, sheet, &codes, self.units.size) else { return Ok(Err(too_few(0))) };
        let squares: Vec<&Square> = sheet.squares().collect();
        let seen = self.squares(&squares, rough)?;
        if seen.found.len() < LEAST_SQUARES {
            return Ok(Err(too_few(seen.found.len())));
        }
        let squared = pose::square_up(sheet, &seen.found, self.units.size, self.options.pitch_um);
        let (geometry, odd) = match squared {
            Ok(squared) => squared,
            Err(error) => return Ok(Err(Why::Geometry(error))),
        };
        self.leave_unread(sheet, &codes, &geometry);
        for (index, place, why) in seen.missing {
            self.leave(sheet.part, Item::Square(squares[index].name), place, why);
        }
        for index in &odd {
            let place = seen.found.iter().find(|f| f.square == *index).map(|f| mean(&f.corners));
            self.leave(sheet.part, Item::Square(squares[*index].name), place, Why::Disagrees);
        }
        for (index, edge) in seen.bare.into_iter().filter(|(index, _)| !odd.contains(index)) {
            match edge {
                Ok(edge) => {
                    let at = (squares[index].name, squares[index].centre);
                    self.edges.push(edges::placed(edge, sheet.part, at, &geometry.mapping, &self.units));
                }
                Err(why) => self.left_out.push(edges::left(sheet.part, squares[index], why)),
            }
        }
        Ok(Ok(Settled { sheet: sheet.clone(), codes, geometry, found: seen.found }))
    }

    /// A sheet's squares at full resolution, and their edges while their pixels are at hand.
    fn squares(&mut self, squares: &[&Square], rough: Model) -> Outcome<Seen, F> {
        let mut seen = Seen::default();
        let mut wanted: Vec<(usize, [Place; 4], Region)> = Vec::new();
        for (index, square) in squares.iter().enumerate() {
            let predicted = rough.square(square);
            let region = predicted.and_then(|predicted| {
                let side = (predicted[1].0 - predicted[0].0).hypot(predicted[1].1 - predicted[0].1);
                let (from, to) = regions::around(&predicted, MARGIN * side);
                regions::within(from, to, self.units.size)
            });
            match (predicted, region) {
                (Some(predicted), Some(region)) => wanted.push((index, predicted, region)),
                _ => seen.missing.push((index, predicted.map(|p| mean(&p)), Why::OutsideFrame)),
            }
        }
        let boxes: Vec<Region> = wanted.iter().map(|w| w.2).collect();
        for group in regions::by_rows(&boxes) {
            let pictures = self.read_all(&group.iter().map(|i| boxes[*i]).collect::<Vec<_>>())?;
            for (i, picture) in group.into_iter().zip(pictures) {
                let (index, predicted, region) = wanted[i];
                self.square((index, squares[index]), predicted, (region, &picture), &mut seen);
            }
        }
        seen.found.sort_by_key(|f| f.square);
        seen.bare.sort_by_key(|b| b.0);
        seen.missing.sort_by_key(|m| m.0);
        Ok(seen)
    }

    fn square(
        &self,
        (index, square): (usize, &Square),
        predicted: [Place; 4],
        (region, picture): (Region, &Picture<Linear>),
        seen: &mut Seen,
    ) {
        let plane = picture.luminance();
        let local = View { plane: &plane, origin: (f64::from(region.x), f64::from(region.y)), factor: 1.0 };
        match pose::settle(&local, predicted, self.negative) {
            Ok(corners) => {
                let edges = edges::of_square(picture, (region.x, region.y), square, corners, self.options);
                seen.bare.extend(edges.into_iter().map(|edge| (index, edge)));
                seen.found.push(Cornered { square: index, corners });
            }
            Err(Missing::Outside) => seen.missing.push((index, Some(mean(&predicted)), Why::OutsideFrame)),
            Err(Missing::NotThere) => seen.missing.push((index, Some(mean(&predicted)), Why::NotSeen)),
        }
    }

    fn leave_unread(&mut self, sheet: &Sheet, codes: &[Sighted], geometry: &GeometryReport) {
        for corner in pose::unread(codes) {
            let place = sheet.codes().find(|c| c.text.corner == corner).map(|c| c.centre);
            let place = place.and_then(|[x, y]| geometry.mapping.to_picture((x, y)));
            let inside = place.is_some_and(|(x, y)| {
                (0.0..f64::from(self.units.size.0)).contains(&x) && (0.0..f64::from(self.units.size.1)).contains(&y)
            });
            let why = if inside { Why::NotRead } else { Why::OutsideFrame };
            self.leave(sheet.part, Item::Code(corner), place, why);
        }
    }
}
