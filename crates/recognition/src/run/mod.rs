//! From a frame to everything that its card tells.

mod card;
mod curvature;
mod focus;
mod fringes;
mod laid;
mod lie;
mod rulers;
mod sheets;
mod tones;

use measure::{ContrastReport, Figure};
use planes::{Channels, Linear, Picture, Region};
use target::Part;

use self::card::{CardSeen, one_card, sight};
use self::sheets::Settled;
use crate::edges::{Units, pools};
use crate::error::{Item, LeftOut, RecogniseError, Why};
use crate::frame::Frame;
use crate::patches;
use crate::recognised::{
    Grain, GroundSample, MeasuredEdge, Options, PRINTER_SCALE_PLUS_MINUS, Patch, Pose, RampFound, Recognised, Remark,
    RulerFound,
};
use crate::regions::Blank;
use crate::squares::{Place, View};

/// Longer side of the overview in which codes are looked for, pixels.
const OVERVIEW_PX: u32 = 2400;
/// Shorter side of a picture that can hold a readable code and squares.
const LEAST_PX: u32 = 160;
/// Squares that a sheet needs: two lie far enough apart for its perspective.
const LEAST_SQUARES: usize = 2;
/// A ruler and the squares may be so far apart, beyond their own doubt, per cent.
const RULER_PERCENT: f64 = 0.2;
/// The printed check line's length, mm.
const CHECK_LINE_MM: f64 = 100.0;

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
    let picture = frame.reduced(factor).map_err(RecogniseError::Frame)?;
    let overview = picture.luminance();
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
    let mut views = vec![view];
    if let Channels::Rgb { planes, .. } = picture.channels() {
        views.extend(planes.iter().map(|plane| View { plane, ..view }));
    }
    run.finish(&views, &card, sheets)
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

/// What the sheets hold besides their squares.
#[derive(Default)]
struct Taken {
    rulers: Vec<RulerFound>,
    blades: Vec<MeasuredEdge>,
    patches: Vec<Patch>,
    contrast: Option<ContrastReport>,
    grain: Option<Grain>,
    ramps: Vec<RampFound>,
    samples: Vec<GroundSample>,
}

type Outcome<T, F> = Result<T, RecogniseError<<F as Frame>::Error>>;

impl<F: Frame> Run<'_, F> {
    fn leave(&mut self, part: Part, what: Item, place_px: Option<Place>, why: Why) {
        self.left_out.push(LeftOut { part, what, place_px, why });
    }

    fn read(&mut self, region: Region) -> Outcome<Picture<Linear>, F> {
        self.frame.region(region).map_err(RecogniseError::Frame)
    }

    fn read_all(&mut self, regions: &[Region]) -> Outcome<Vec<Picture<Linear>>, F> {
        self.frame.regions(regions).map_err(RecogniseError::Frame)
    }

    fn finish(mut self, views: &[View], card: &CardSeen, sheets: Vec<Settled>) -> Outcome<Recognised, F> {
        let pose = self.pose(&sheets);
        let (by_square, by_zone) = pools(&self.edges, &self.units);
        let fringing = self.fringing(&sheets);
        let mut taken = Taken::default();
        for settled in &sheets {
            self.take(views, settled, &mut taken)?;
        }
        let part = sheets[0].sheet.part;
        let evenness = if self.negative {
            Err(Why::Negative)
        } else {
            patches::evenness(taken.samples, &self.units, self.options.edge.white)
        };
        let evenness = evenness.map_err(|why| self.leave(part, Item::Evenness, None, why)).ok();
        let mut surfaces = self.alignment(&taken.ramps, &pose, part).into_iter();
        let (alignment, otherwise) = (surfaces.next(), surfaces.next());
        let softness = alignment.as_ref().map(|a| self.softness(a, otherwise.as_ref(), &pose)).unwrap_or_default();
        self.remark(&pose, &taken.rulers);
        Ok(Recognised {
            size_px: self.units.size,
            identity: card.codes[0].text.identity,
            field_mm: card.parts[0].field_mm,
            negative: self.negative,
            printed_scale: self.units.printed,
            pose,
            sheets: sheets.into_iter().map(Settled::found).collect(),
            edges: self.edges,
            blades: taken.blades,
            by_square,
            by_zone,
            fringing,
            fringing_in_um: self.units.pitch_um.is_some(),
            rulers: taken.rulers,
            patches: taken.patches,
            contrast: taken.contrast,
            evenness,
            grain: taken.grain,
            ramps: taken.ramps,
            alignment,
            alignment_otherwise: otherwise,
            softness,
            left_out: self.left_out,
            remarks: self.remarks,
        })
    }

    /// What one sheet holds besides its squares.
    fn take(&mut self, views: &[View], settled: &Settled, taken: &mut Taken) -> Outcome<(), F> {
        taken.rulers.extend(self.rulers(settled)?);
        taken.blades.extend(self.blades(settled)?);
        let blank = Blank::of(&settled.sheet);
        if self.negative {
            self.leave(settled.sheet.part, Item::Trap, None, Why::Negative);
        } else {
            let (found, glare) = self.tones(settled, &blank)?;
            taken.patches.extend(found);
            taken.patches.extend(self.stuck(settled)?);
            taken.contrast = taken.contrast.take().or(glare);
        }
        if taken.grain.is_none() {
            taken.grain = self.grain(settled, &blank)?;
        }
        taken.ramps.extend(self.ramps(settled)?);
        taken.ramps.extend(self.rule(settled)?);
        taken.samples.extend(patches::ground(views, &settled.sheet, &settled.model(), &blank));
        Ok(())
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
