//! From a frame to everything that its card tells.

use measure::{
    AlignmentOptions, EdgeReport, Figure, FringeSample, FringingOptions, FringingReport, GeometryReport, LocalScale,
    ScaleOptions, SharpPlace, Softness, TiltOptions, alignment, edge_fringe, film_defocus_mm, fringing, response_at,
    scale, softness_explained, tilt,
};
use planes::{Linear, Picture, Plane, Region};
use target::{Corner, Part, Ramp, Ruler, Sheet, Square, Zone};

use crate::codes::{self, Sighted, Sightings};
use crate::edges::{self, Units, pools};
use crate::error::{Item, LeftOut, RecogniseError, Why};
use crate::frame::Frame;
use crate::patches;
use crate::pose::{self, Cornered, Model};
use crate::ramps;
use crate::recognised::{
    CornerSoftness, MeasuredEdge, Options, PRINTER_SCALE_PLUS_MINUS, Patch, PatchKind, Pose, RampFound, Recognised,
    Remark, RulerFound, SheetFound, SquareFound,
};
use crate::regions::{self, Blank};
use crate::squares::{Missing, Place, View};

/// Longer side of the overview in which codes are looked for, pixels.
const OVERVIEW_PX: u32 = 2400;
/// Full-resolution tiles in which they are looked for where the overview shows too few, and how far they overlap.
const TILE_PX: u32 = 2400;
const OVERLAP_PX: u32 = 700;
/// Shorter side of a picture that can hold a readable code and squares.
const LEAST_PX: u32 = 160;
/// Squares that a sheet needs: two lie far enough apart for its perspective.
const LEAST_SQUARES: usize = 2;
/// Largest region that is read for one ruler, pixels: a ruler that runs slantwise is cut short.
const LARGEST_RULER_PX: f64 = 6e6;
/// A ruler and the squares may be so far apart, beyond their own doubt, per cent.
const RULER_PERCENT: f64 = 0.2;
/// The printed check line's length, mm.
const CHECK_LINE_MM: f64 = 100.0;
/// Wavelength for defocus: green light, mm.
const WAVELENGTH_MM: f64 = 0.55e-3;

/// Finds the card in a frame, squares it up, and takes every figure that it tells.
///
/// The card may lie in any orientation, mirrored or as a negative; one readable code of any sheet is enough. What cannot be
/// taken is in [`Recognised::left_out`] with its reason, and spoils nothing else.
pub fn recognise<F: Frame>(frame: &mut F, options: &Options) -> Result<Recognised, RecogniseError<F::Error>> {
    check(options)?;
    let size = frame.size();
    if size.0.min(size.1) < LEAST_PX {
        return Err(RecogniseError::TooSmall { width: size.0, height: size.1, least: LEAST_PX });
    }
    let factor = size.0.max(size.1).div_ceil(OVERVIEW_PX).max(1);
    let overview = frame.reduced(factor).map_err(RecogniseError::Frame)?.luminance();
    let mut remarks = Vec::new();
    let sightings = sight(frame, &overview, factor)?;
    let card = one_card(sightings, &mut remarks)?;
    let view = View { plane: &overview, origin: (0.0, 0.0), factor: f64::from(factor) };
    let printed = match options.check_line_mm {
        Some(line) => line.times(1.0 / CHECK_LINE_MM),
        None => Figure::new(1.0, PRINTER_SCALE_PLUS_MINUS),
    };
    let mut run = Run {
        frame,
        options,
        units: Units { size, pitch_um: options.pitch_um, printed },
        negative: card.negative,
        left_out: Vec::new(),
        remarks,
        edges: Vec::new(),
    };
    let sheets = run.sheets(&view, &card)?;
    run.finish(&view, &card, sheets)
}

fn check<E: std::error::Error>(options: &Options) -> Result<(), RecogniseError<E>> {
    let figures = [
        ("the pixel pitch in micrometres", options.pitch_um),
        ("the distance from the entrance pupil in mm", options.entrance_pupil_to_subject_mm.map(|f| f.value)),
        ("the check line's length in mm", options.check_line_mm.map(|f| f.value)),
        ("the effective f-number", options.effective_f_number),
    ];
    match figures.into_iter().find_map(|(what, value)| Some((what, value.filter(|v| !(*v > 0.0 && v.is_finite()))?))) {
        Some((what, value)) => Err(RecogniseError::BadOption { what, value }),
        None => Ok(()),
    }
}

/// Codes by the overview; where it is coarser than the frame and shows too few, by tiles at full resolution.
fn sight<F: Frame>(
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
struct CardSeen {
    codes: Vec<Sighted>,
    parts: Vec<Sheet>,
    negative: bool,
}

/// The print of which most codes were read.
fn one_card<E: std::error::Error>(seen: Sightings, remarks: &mut Vec<Remark>) -> Result<CardSeen, RecogniseError<E>> {
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

/// A sheet with its geometry.
struct Settled {
    sheet: Sheet,
    codes: Vec<Sighted>,
    geometry: GeometryReport,
    found: Vec<Cornered>,
}

impl Settled {
    fn model(&self) -> Model {
        Model::Full(self.geometry.mapping)
    }
}

/// What is carried through the work.
struct Run<'a, F: Frame> {
    frame: &'a mut F,
    options: &'a Options,
    units: Units,
    negative: bool,
    left_out: Vec<LeftOut>,
    remarks: Vec<Remark>,
    edges: Vec<MeasuredEdge>,
}

/// A patch to be taken: middle, width and height on the sheet, and its meant reflectance.
type Wanted = (Item, PatchKind, [f64; 2], [f64; 2], f64);

type Outcome<T, F> = Result<T, RecogniseError<<F as Frame>::Error>>;

impl<F: Frame> Run<'_, F> {
    fn leave(&mut self, part: Part, what: Item, place_px: Option<Place>, why: Why) {
        self.left_out.push(LeftOut { part, what, place_px, why });
    }

    fn read(&mut self, region: Region) -> Outcome<Picture<Linear>, F> {
        self.frame.region(region).map_err(RecogniseError::Frame)
    }

    /// Every sheet, squared up, with its edges.
    fn sheets(&mut self, view: &View, card: &CardSeen) -> Outcome<Vec<Settled>, F> {
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
        let mut found: Vec<Cornered> = Vec::new();
        let mut bare = Vec::new();
        let mut missing = Vec::new();
        for (index, square) in squares.iter().enumerate() {
            let Some(predicted) = rough.square(square) else {
                missing.push((index, None, Why::OutsideFrame));
                continue;
            };
            let middle = crate::squares::mean(&predicted);
            let side = (predicted[1].0 - predicted[0].0).hypot(predicted[1].1 - predicted[0].1);
            let (from, to) = regions::around(&predicted, 0.5 * side);
            let Some(region) = regions::within(from, to, self.units.size) else {
                missing.push((index, Some(middle), Why::OutsideFrame));
                continue;
            };
            let picture = self.read(region)?;
            let plane = picture.luminance();
            let origin = (f64::from(region.x), f64::from(region.y));
            let local = View { plane: &plane, origin, factor: 1.0 };
            match pose::settle(&local, predicted, self.negative) {
                Ok(corners) => {
                    let from = (region.x, region.y);
                    bare.extend(
                        edges::of_square(&picture, from, square, corners, self.options)
                            .into_iter()
                            .map(|edge| (index, edge)),
                    );
                    found.push(Cornered { square: index, corners });
                }
                Err(Missing::Outside) => missing.push((index, Some(middle), Why::OutsideFrame)),
                Err(Missing::NotThere) => missing.push((index, Some(middle), Why::NotSeen)),
            }
        }
        if found.len() < LEAST_SQUARES {
            return Ok(Err(too_few(found.len())));
        }
        let squared = pose::square_up(sheet, &found, self.units.size, self.options.pitch_um);
        let (geometry, odd) = match squared {
            Ok(squared) => squared,
            Err(error) => return Ok(Err(Why::Geometry(error))),
        };
        for corner in pose::unread(&codes) {
            let place = sheet.codes().find(|c| c.text.corner == corner).map(|c| c.centre);
            let place = place.and_then(|[x, y]| geometry.mapping.to_picture((x, y)));
            let inside = place.is_some_and(|(x, y)| {
                (0.0..f64::from(self.units.size.0)).contains(&x) && (0.0..f64::from(self.units.size.1)).contains(&y)
            });
            let why = if inside { Why::NotRead } else { Why::OutsideFrame };
            self.leave(sheet.part, Item::Code(corner), place, why);
        }
        for (index, place, why) in missing {
            self.leave(sheet.part, Item::Square(squares[index].name), place, why);
        }
        for index in &odd {
            let place = found.iter().find(|f| f.square == *index).map(|f| crate::squares::mean(&f.corners));
            self.leave(sheet.part, Item::Square(squares[*index].name), place, Why::Disagrees);
        }
        for (index, edge) in bare.into_iter().filter(|(index, _)| !odd.contains(index)) {
            match edge {
                Ok(edge) => {
                    self.edges.push(edges::placed(edge, sheet.part, squares[index], &geometry.mapping, &self.units));
                }
                Err(why) => self.left_out.push(edges::left(sheet.part, squares[index], why)),
            }
        }
        Ok(Ok(Settled { sheet: sheet.clone(), codes, geometry, found }))
    }

    fn finish(mut self, view: &View, card: &CardSeen, sheets: Vec<Settled>) -> Outcome<Recognised, F> {
        let pose = self.pose(&sheets);
        let (by_square, by_zone) = pools(&self.edges, &self.units);
        let fringing = self.fringing(&sheets);
        let mut rulers = Vec::new();
        let (mut patches, mut contrast, mut grain, mut ramps) = (Vec::new(), None, None, Vec::new());
        let mut samples = Vec::new();
        for settled in &sheets {
            rulers.extend(self.rulers(settled)?);
            let blank = Blank::of(&settled.sheet);
            if self.negative {
                self.leave(settled.sheet.part, Item::Trap, None, Why::Negative);
            } else {
                let (found, glare) = self.tones(settled, &blank)?;
                patches.extend(found);
                contrast = contrast.or(glare);
            }
            if grain.is_none() {
                grain = self.grain(settled, &blank)?;
            }
            ramps.extend(self.ramps(settled)?);
            samples.extend(patches::ground(view, &settled.sheet, &settled.model(), &blank));
        }
        let part = sheets[0].sheet.part;
        let evenness = if self.negative {
            Err(Why::Negative)
        } else {
            patches::evenness(samples, &self.units, self.options.edge.white)
        };
        let evenness = evenness.map_err(|why| self.leave(part, Item::Evenness, None, why)).ok();
        let alignment = self.alignment(&ramps, &pose, part);
        let softness = alignment.as_ref().map(|a| self.softness(a, &pose)).unwrap_or_default();
        self.remark(&pose, &rulers);
        let sheet = |s: Settled| {
            let squares: Vec<&Square> = s.sheet.squares().collect();
            let square = |(i, f): (usize, &Cornered)| {
                let residuals = &s.geometry.residuals_px[4 * i..4 * i + 4];
                let residual_px = residuals.iter().map(|r| r.0.hypot(r.1)).fold(0.0, f64::max);
                SquareFound { name: squares[f.square].name, corners_px: f.corners, residual_px }
            };
            SheetFound {
                part: s.sheet.part,
                codes: s.codes.iter().map(|c| c.text.corner).collect(),
                squares: s.found.iter().enumerate().map(square).collect(),
                geometry: s.geometry,
            }
        };
        Ok(Recognised {
            size_px: self.units.size,
            identity: card.codes[0].text.identity,
            field_mm: card.parts[0].field_mm,
            negative: self.negative,
            printed_scale: self.units.printed,
            pose,
            sheets: sheets.into_iter().map(sheet).collect(),
            edges: self.edges,
            by_square,
            by_zone,
            fringing,
            fringing_in_um: self.units.pitch_um.is_some(),
            rulers,
            patches,
            contrast,
            evenness,
            grain,
            ramps,
            alignment,
            softness,
            left_out: self.left_out,
            remarks: self.remarks,
        })
    }

    fn remark(&mut self, pose: &Pose, rulers: &[RulerFound]) {
        if pose.mirrored {
            self.remarks.push(Remark::Mirrored);
        }
        if self.negative {
            self.remarks.push(Remark::Negative);
        }
        if self.options.check_line_mm.is_none() {
            self.remarks.push(Remark::PrinterScaleAssumed);
        }
        let edges = self.edges.iter().filter(|e| e.print_limit.is_some()).count();
        if edges > 0 {
            self.remarks.push(Remark::PrintLimits { edges, provable_lp_mm: target::printed_half_contrast_lp_mm() });
        }
        for ruler in rulers {
            let doubt = 100.0 * ruler.report.plus_minus / ruler.report.px_per_mm;
            if ruler.differs_percent.abs() > RULER_PERCENT + doubt {
                self.remarks.push(Remark::RulerDiffers { name: ruler.name, percent: ruler.differs_percent });
            }
        }
    }

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

    fn pose(&mut self, sheets: &[Settled]) -> Pose {
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

    /// Fringing over the frame from every edge in colour.
    fn fringing(&mut self, sheets: &[Settled]) -> Option<FringingReport> {
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

    fn rulers(&mut self, settled: &Settled) -> Outcome<Vec<RulerFound>, F> {
        let mut out = Vec::new();
        let rulers: Vec<Ruler> = settled.sheet.rulers().cloned().collect();
        for ruler in &rulers {
            match self.ruler(settled, ruler)? {
                Ok(found) => out.push(found),
                Err(why) => {
                    let place = settled.model().to_picture(ruler.tick(ruler.ticks / 2).0);
                    self.leave(settled.sheet.part, Item::Ruler(ruler.name), place, why);
                }
            }
        }
        Ok(out)
    }

    fn ruler(&mut self, settled: &Settled, ruler: &Ruler) -> Outcome<Result<RulerFound, Why>, F> {
        let (width, height) = (f64::from(self.units.size.0), f64::from(self.units.size.1));
        let model = settled.model();
        let half_tick = ruler.lengths_mm[2];
        // The longest stretch of ticks that is wholly in the frame and not too large a region.
        let shown = |n: usize| {
            let (at, _) = ruler.tick(n);
            let far = |dx: f64, dy: f64| {
                model
                    .to_picture([at[0] + dx, at[1] + dy])
                    .is_some_and(|(x, y)| x > 2.0 && y > 2.0 && x < width - 2.0 && y < height - 2.0)
            };
            far(half_tick, 0.0) && far(-half_tick, 0.0) && far(0.0, half_tick) && far(0.0, -half_tick)
        };
        let inside: Vec<usize> = (0..ruler.ticks).filter(|n| shown(*n)).collect();
        let (Some(first), Some(last)) = (inside.first(), inside.last()) else { return Ok(Err(Why::OutsideFrame)) };
        let (mut first, mut last) = (*first, *last);
        let region = loop {
            let px_per_mm = settled.geometry.scale_px_per_mm.value;
            let places: Option<Vec<Place>> = [first, last].iter().map(|n| model.to_picture(ruler.tick(*n).0)).collect();
            let Some(places) = places else { return Ok(Err(Why::OutsideFrame)) };
            let (from, to) = regions::around(&places, 1.5 * half_tick * px_per_mm);
            let Some(region) = regions::within(from, to, self.units.size) else { return Ok(Err(Why::OutsideFrame)) };
            if f64::from(region.width) * f64::from(region.height) <= LARGEST_RULER_PX || last - first < 8 {
                break region;
            }
            let tenth = ((last - first) / 10).max(1);
            (first, last) = (first + tenth, last - tenth);
        };
        let picture = self.read(region)?;
        let place = |n: f64| {
            let share = n / (ruler.ticks - 1) as f64;
            let at = [0, 1].map(|i| ruler.first[i] + share * (ruler.last[i] - ruler.first[i]));
            model.to_picture(at).map(|(x, y)| (x - f64::from(region.x), y - f64::from(region.y)))
        };
        // A third of a tick before the first and after the last, so that both lie on the line.
        let (Some(from), Some(to)) = (place(first as f64 - 0.35), place(last as f64 + 0.35)) else {
            return Ok(Err(Why::OutsideFrame));
        };
        let options = ScaleOptions { from, to, tick_mm: ruler.tick_mm, pitch_um: None };
        let report = match scale(&picture, &options) {
            Ok(report) => report,
            Err(error) => return Ok(Err(Why::Ruler(error))),
        };
        let expected = (to.0 - from.0).hypot(to.1 - from.1) / ((last - first) as f64 + 0.7) / ruler.tick_mm;
        Ok(Ok(RulerFound {
            part: settled.sheet.part,
            name: ruler.name,
            expected_px_per_mm: expected,
            differs_percent: 100.0 * (report.px_per_mm / expected - 1.0),
            report,
        }))
    }

    /// Grey steps, white beside them, and the trap against its white.
    fn tones(&mut self, settled: &Settled, blank: &Blank) -> Outcome<(Vec<Patch>, Option<measure::ContrastReport>), F> {
        let part = settled.sheet.part;
        let mut out = Vec::new();
        let mut wanted: Vec<Wanted> = settled
            .sheet
            .steps()
            .map(|s| (Item::Step(s.number), PatchKind::Step(s.number), s.centre, s.size_mm, s.reflectance))
            .collect();
        let traps = settled.sheet.traps().map(|t| {
            let own = if self.options.trap_cut_out { 0.0 } else { target::TRAP_PRINTED_REFLECTANCE };
            (Item::Trap, PatchKind::Trap, t.centre, [t.side_mm; 2], own)
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
            wanted.push((Item::Step(0), PatchKind::White, place, [2.0 * room; 2], patches::WHITE));
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
        let white = self.patch(settled, place, [2.0 * room; 2], (part, PatchKind::White, patches::WHITE))?;
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

    fn patch(
        &mut self,
        settled: &Settled,
        centre: [f64; 2],
        size_mm: [f64; 2],
        what: (Part, PatchKind, f64),
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
    fn grain(&mut self, settled: &Settled, blank: &Blank) -> Outcome<Option<crate::Grain>, F> {
        let part = settled.sheet.part;
        let short = settled.sheet.size_mm[0].min(settled.sheet.size_mm[1]);
        let worth = |p: &[f64; 2]| blank.room_mm(*p).min(0.05 * short) - 0.02 * p[0].hypot(p[1]);
        let places = blank.places(60, 0.02 * short);
        let Some(place) = places.into_iter().max_by(|a, b| worth(a).total_cmp(&worth(b))) else { return Ok(None) };
        let room = blank.room_mm(place).min(0.05 * short);
        let what = (part, PatchKind::White, patches::WHITE);
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

    fn ramps(&mut self, settled: &Settled) -> Outcome<Vec<RampFound>, F> {
        let part = settled.sheet.part;
        let model = settled.model();
        let ramps: Vec<Ramp> = settled.sheet.ramps().cloned().collect();
        let mut planes: Vec<(usize, Region, Plane<Linear>)> = Vec::new();
        for (index, ramp) in ramps.iter().enumerate() {
            let place = model.to_picture(ramp.centre);
            let region = ramps::outline(ramp, &model).and_then(|places| {
                let (from, to) = regions::around(&places, 2.0);
                regions::within(from, to, self.units.size)
            });
            match region {
                Some(region) => planes.push((index, region, self.read(region)?.luminance())),
                None => self.leave(part, Item::Ramp(ramp.name), place, Why::OutsideFrame),
            }
        }
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
                (Ok(((modulation, report), eye)), Some(place_px)) => {
                    let height = report.peak_height_mm.value / self.units.printed.value;
                    let sharpest_px = ramps::seen_at(ramp, height, &model, eye).unwrap_or(place_px);
                    out.push(RampFound { part, name: ramp.name, place_px, sharpest_px, modulation, report });
                }
                (Err(why), _) => self.leave(part, Item::Ramp(ramp.name), place, why),
                (Ok(_), None) => self.leave(part, Item::Ramp(ramp.name), place, Why::OutsideFrame),
            }
        }
        Ok(out)
    }

    fn alignment(&mut self, ramps: &[RampFound], pose: &Pose, part: Part) -> Option<measure::AlignmentReport> {
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
        match alignment(&places, &AlignmentOptions { field_mm, curvature }) {
            Ok(report) => Some(report),
            Err(error) => {
                self.leave(part, Item::Alignment, None, Why::Alignment(error));
                None
            }
        }
    }

    /// For each corner's square the share of its loss against the centre that its height off the sharp surface explains.
    fn softness(&mut self, surface: &measure::AlignmentReport, pose: &Pose) -> Vec<CornerSoftness> {
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
            let place = members[0].place_px;
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
            let height_mm = surface.height_at(((place.0 - middle.0) / per_mm, (place.1 - middle.1) / per_mm));
            let softness = Softness {
                cy_per_mm: cy_px * 1000.0 / pitch,
                wavelength_mm: WAVELENGTH_MM,
                effective_f_number,
                defocus_mm: height_mm.times(film_defocus_mm(1.0, magnification.value)),
                corner,
                sharp,
            };
            match softness_explained(&softness) {
                Ok(report) => out.push(CornerSoftness { square, part, height_mm, cy_px, report }),
                Err(error) => self.leave(part, Item::Softness(square), Some(place), Why::Softness(error)),
            }
        }
        out
    }
}

/// Mean weighted by each figure's own interval; `None` of none.
fn weighted(figures: &[Figure]) -> Option<Figure> {
    let least = figures.iter().map(|f| f.plus_minus).fold(f64::MAX, f64::min).max(1e-12);
    let weight = |f: &Figure| (least / f.plus_minus.max(least)).powi(2);
    let sum: f64 = figures.iter().map(weight).sum();
    if figures.is_empty() || !sum.is_finite() || sum <= 0.0 {
        return None;
    }
    let value = figures.iter().map(|f| weight(f) * f.value).sum::<f64>() / sum;
    Some(Figure::new(value, least / sum.sqrt()))
}
