//! What a set-up is likely to do on film, before anybody takes a frame with it, and how unsure that is.
//!
//! The same figures that frames are measured for: where the contrast falls to a share, the contrast left at a fineness, colour beside
//! an edge. They are of lens, film and scanner together, as measured ones are. The doubt is wide, and made of three:
//!
//! * **The form is not the lens.** What can be seen of a lens (elements, symmetry, back focus) does not tell its design. So the
//!   [`OTHERS`] forms of the library that are most like the chosen one (of its kind, then of its class, then by what is seen) are put in its place, scaled to the same focal length, on the
//!   same principal planes, at the same effective f-number, and focused anew. If the lens differs from the chosen form as these do, its figure
//!   less the form's is drawn from the same scatter: with the root mean square s of n differences the half-width of 95 % is t·s, t from
//!   Student's distribution with n degrees of freedom. Few forms make it wide, and they should.
//! * **Focus.** A person stops turning where the contrast on the ground glass no longer visibly changes. A film that is δ off spreads a
//!   point to a disc of δ/N, which leaves 2J₁(x)/x ≈ 1 − x²/8 of the contrast at ν, x = πνδ/N; [`SEEN`] of it is where a change is
//!   seen, and δ there is taken for the half-width of 95 %. Figures are means over that scatter (three points of Gauss and Hermite), so
//!   that a set-up of little depth of focus pays for it.
//! * **Film and scanner** ([`Chain`]), between a soft film scanned by a scanner that blurs two of its samples and a fine one scanned
//!   ideally.
//!
//! A lens that focuses by moving glass inside is scaled to its focal length at that focus, and forms count as scattering wider there.
//! Set-ups with a converter are refused: of it the best case alone is known.
//!
//! How a certain lens was made, centred and kept is in none of them.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use kit::{Part, Setup};
use optics::{COVERAGE_95, Estimate};
use rays::{AimError, Criterion, Form, Kind, Pencil, Question, SetUp, Spectrum, System, Wavelength};

use super::BenchError;
use super::design::{Design, Designs};
use super::frame::{FOCUS_CYCLES_PER_MM, FOCUS_OUT_TO};
use super::stand_in::{inside, stand_in_of};
use super::trace::film_response;
use crate::web::fmt;

/// So many forms beside the chosen one are traced.
pub const OTHERS: usize = 4;
/// With fewer that can be traced there is no scatter to speak of.
const LEAST_OTHERS: usize = 2;
/// Student's t for 95 % with 2, 3 and 4 degrees of freedom (any table).
const STUDENT: [f64; OTHERS - 1] = [4.303, 3.182, 2.776];
/// The share of contrast whose loss an eye just sees (about a tenth at middling contrast; from memory).
const SEEN: f64 = 0.1;

/// The layers of a colour film as one line each, nm, with what they count for the luminance of a scan (sRGB, IEC 61966-2-1).
const LAYERS: [(f64, f64); 3] = [(450.0, 0.0722), (545.0, 0.7152), (640.0, 0.2126)];
const GREEN: usize = 1;

/// Film and scanner: what they leave of the contrast that the lens brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chain {
    /// The scan's pitch, µm on film.
    pub pitch_um: f64,
}

/// Where half of the contrast is left on film, cycles/mm, of the soft and of the fine: makers' curves of general-purpose films lie
/// between (from memory).
const FILM_HALF: [f64; 2] = [40.0, 100.0];
/// Samples that a scanner blurs over: flatbeds fall well short of their nominal resolution (common practice, no source).
const SCANNER_SAMPLES: [f64; 2] = [2.0, 1.0];

impl Chain {
    /// 4000 samples to the inch, where no scan says otherwise (common practice, no source).
    pub const USUAL: Self = Self { pitch_um: 6.35 };

    /// Which scans are counted, in a sentence; `whose` says where the pitch comes from, the usual one where nothing does.
    pub fn words(self, whose: Option<&str>) -> String {
        let samples = fmt::figure(25_400.0 / self.pitch_um, 4);
        let whose = whose.unwrap_or("a usual scan, since no scan says otherwise");
        format!(
            "Scans count with a pitch of {} µm, {samples} samples to the inch: {whose}.",
            fmt::figure(self.pitch_um, 3)
        )
    }

    /// What is left at a frequency, at the soft end and at the fine one.
    pub fn leaves(self, cycles_per_mm: f64) -> [f64; 2] {
        [0, 1].map(|end| {
            let film = film_response(FILM_HALF[end], cycles_per_mm);
            let turn = std::f64::consts::PI * cycles_per_mm * self.pitch_um * 1e-3 * SCANNER_SAMPLES[end];
            // Beyond its first zero the aperture shows structures that are not there.
            let scanner = if turn < std::f64::consts::PI { sinc(turn) } else { 0.0 };
            film * scanner
        })
    }
}

fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { x.sin() / x }
}

/// A lens that moves glass inside keeps its corrections by it or loses them, which no form that is made larger or smaller tells: there
/// other forms count as so many times as far off (own choice, no source).
const INSIDE_SCATTERS: f64 = 2.0;

/// What is asked of a set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Foresee {
    /// Places, mm on film from the middle.
    pub film_mm: Vec<f64>,
    /// From the middle to the corner of the frame, mm.
    pub corner_mm: f64,
    /// Shares of contrast of which the fineness is wanted.
    pub contrasts: Vec<f64>,
    /// Finenesses on film, cycles/mm, of which the contrast is wanted.
    pub cycles_per_mm: Vec<f64>,
    /// What comes after the lens.
    pub chain: Chain,
}

/// A predicted figure with its doubts, half-widths of 95 %.
#[derive(Debug, Clone, PartialEq)]
pub struct Foretold {
    /// The figure with the chosen form.
    pub value: f64,
    /// Because the form is not the lens.
    pub of_form: f64,
    /// By focusing.
    pub of_focus: f64,
    /// By film and scanner.
    pub of_chain: f64,
    /// The same with each of the other forms, in their order; none where one could not be traced.
    pub others: Vec<Option<f64>>,
}

impl Foretold {
    /// All doubts together.
    pub fn plus_minus(&self) -> f64 {
        self.of_form.hypot(self.of_focus).hypot(self.of_chain)
    }

    /// In another unit.
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            of_form: self.of_form * factor,
            of_focus: self.of_focus * factor,
            of_chain: self.of_chain * factor,
            others: self.others.iter().map(|other| other.map(|other| other * factor)).collect(),
        }
    }

    /// This less another of another set-up. Film and scanner are the same for both; focusing is not; and where both have the same
    /// lenses (`same_lens`) every form stands for them in both at once, so that what counts is how much the forms scatter about the
    /// difference.
    pub fn less(&self, other: &Self, same_lens: bool) -> Estimate {
        let value = self.value - other.value;
        let pairs = self.others.iter().zip(&other.others).map(|(p, q)| Some((*p)? - (*q)?));
        let of_form = match same_lens {
            true => of_form(value, &pairs.collect::<Vec<_>>()),
            false => None,
        };
        let of_form = of_form.unwrap_or(self.of_form.hypot(other.of_form));
        let of_focus = self.of_focus.hypot(other.of_focus);
        let plus_minus = of_form.hypot(of_focus).hypot(self.of_chain - other.of_chain);
        Estimate { value, plus_minus }
    }
}

impl Foretold {
    /// With every other form so many times as far off.
    fn scattered(mut self, times: f64) -> Self {
        self.of_form *= times;
        let value = self.value;
        self.others.iter_mut().flatten().for_each(|other| *other = value + times * (*other - value));
        self
    }
}

/// One place on film. What is `None` is dark there, or not known of enough forms.
#[derive(Debug, Clone, PartialEq)]
pub struct ForetoldPlace {
    /// mm from the middle.
    pub film_mm: f64,
    /// For every contrast asked for, the fineness on film where it is reached first, the weaker way round; cycles/mm.
    pub resolution: Vec<Option<Foretold>>,
    /// For every fineness asked for, the contrast left, the weaker way round.
    pub contrast: Vec<Option<Foretold>>,
    /// The larger displacement of red or blue against green, µm on film.
    pub fringing_um: Option<Foretold>,
}

impl ForetoldPlace {
    fn scattered(self, times: f64) -> Self {
        let all = |figures: Vec<Option<Foretold>>| {
            figures.into_iter().map(|figure| figure.map(|figure| figure.scattered(times))).collect()
        };
        Self {
            resolution: all(self.resolution),
            contrast: all(self.contrast),
            fringing_um: self.fringing_um.map(|figure| figure.scattered(times)),
            ..self
        }
    }
}

/// What a set-up is likely to do.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictedFigures {
    /// Every lens with what stands for it.
    pub forms: Vec<(String, Design)>,
    /// The forms that were put in their place: one or more names for each of the others that could be traced.
    pub others: Vec<String>,
    /// How far the film may be out of focus either way, mm, in 95 % of cases.
    pub focus_mm: f64,
    /// Effective f-number.
    pub f_number: f64,
    /// As asked for.
    pub places: Vec<ForetoldPlace>,
}

/// What tracing tells of one set-up.
pub type Told = Result<Arc<PredictedFigures>, BenchError>;
/// Traces a set-up, or looks up what was traced; `None` ends whatever asks for it.
pub type Trace<'a> = &'a dyn Fn(&Setup<'_>, &Foresee) -> Option<Told>;

/// What is likely of a set-up at its own f-number; kept, so that asking again costs nothing.
///
/// # Errors
///
/// When a lens has no form, the set-up cannot be traced, or too few other forms can.
pub fn predicted(setup: &Setup<'_>, asked: &Foresee) -> Told {
    let cast = Cast::of(setup)?;
    let key = cast.key(asked);
    if let Some(found) = kept().get(&key) {
        return found.clone();
    }
    let found = cast.predict(asked).map(Arc::new);
    keep(key, found.clone());
    found
}

/// The same if it was asked before, or needs no tracing to be refused.
pub fn predicted_already(setup: &Setup<'_>, asked: &Foresee) -> Option<Told> {
    match Cast::of(setup) {
        Ok(cast) => kept().get(&cast.key(asked)).cloned(),
        Err(refused) => Some(Err(refused)),
    }
}

type Kept = HashMap<String, Told>;

/// More are not kept: a large drawer's plan asks for some dozens.
const MOST_KEPT: usize = 2000;

static KEPT: Mutex<Option<Kept>> = Mutex::new(None);

/// A copy of nothing: the lock is held for a look.
fn kept() -> KeptGuard {
    KeptGuard(KEPT.lock().unwrap_or_else(PoisonError::into_inner))
}

struct KeptGuard(std::sync::MutexGuard<'static, Option<Kept>>);

impl KeptGuard {
    fn get(&self, key: &str) -> Option<&Told> {
        self.0.as_ref()?.get(key)
    }
}

fn keep(key: String, found: Told) {
    let mut kept = KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    let kept = kept.get_or_insert_default();
    if kept.len() >= MOST_KEPT {
        kept.clear();
    }
    kept.insert(key, found);
}

/// A set-up with the forms that stand for its lenses, the chosen ones first.
struct Cast {
    forms: Vec<(String, Design)>,
    chosen: SetUp,
    /// With others in their place, and what they are called.
    others: Vec<(String, Result<SetUp, BenchError>)>,
    /// By how much forms scatter more than they stand apart: [`INSIDE_SCATTERS`] where glass moved inside.
    scatters: f64,
    /// Effective f-number by the kit's own figures: pupils of forms differ, the person's light does not.
    f_number: f64,
}

impl Cast {
    fn of(setup: &Setup<'_>) -> Result<Self, BenchError> {
        if let Some(id) = converter(setup) {
            return Err(BenchError::BestCase { id });
        }
        let designs = Designs::of(setup);
        let chosen = stand_in_of(setup, &|part| designs.of_lens(part))?;
        let lenses: Vec<&Part> = setup.choices().iter().filter_map(|choice| choice.part()).collect();
        let lenses = lenses.into_iter().filter(|part| part.kind() == kit::Kind::Lens);
        let forms: Vec<(String, Design)> =
            lenses.map(|lens| Ok((lens.id().to_owned(), designs.of_lens(lens)?))).collect::<Result<_, BenchError>>()?;
        let others = (0..OTHERS).map(|nth| {
            let name = forms.iter().map(|(_, form)| alike(form)[nth].name).collect::<Vec<_>>().join(" with ");
            (name, stand_in_of(setup, &|part| Ok(Design::Form(alike(&designs.of_lens(part)?)[nth]))))
        });
        let others = others.collect();
        let figures = setup.report()?.figures;
        let f_number = figures.get(optics::Figure::EffectiveFNumber).map_or(f64::NAN, |figure| figure.value);
        let scatters = if inside(setup).is_some() { INSIDE_SCATTERS } else { 1.0 };
        Ok(Self { others, forms, chosen, scatters, f_number })
    }

    fn key(&self, asked: &Foresee) -> String {
        // Every number that has a part in it, to the last digit.
        let others: Vec<_> = self.others.iter().map(|(_, set_up)| set_up).collect();
        let forms: Vec<_> = self.forms.iter().map(|(lens, form)| (lens, form.key())).collect();
        format!("{forms:?} {:?} {others:?} {} {} {asked:?}", self.chosen, self.f_number, self.scatters)
    }

    fn predict(&self, asked: &Foresee) -> Result<PredictedFigures, BenchError> {
        let set_ups: Vec<&Result<SetUp, BenchError>> = self.others.iter().map(|(_, set_up)| set_up).collect();
        let chosen = Ok(self.chosen.clone());
        let all: Vec<&Result<SetUp, BenchError>> = std::iter::once(&chosen).chain(set_ups).collect();
        let mut traced =
            side_by_side(&all, |set_up| Traced::of((*set_up).as_ref().map_err(Clone::clone)?, self.f_number, asked));
        let others = traced.split_off(1);
        let chosen = traced.remove(0)?;
        let usable = others.iter().filter(|other| other.is_ok()).count();
        if usable < LEAST_OTHERS {
            return Err(BenchError::NoScatter { usable, least: LEAST_OTHERS });
        }
        let others: Vec<Option<Traced>> = others.into_iter().map(Result::ok).collect();
        let dispersion = self.forms.iter().all(|(_, form)| form.dispersion_known());
        let places = (0..asked.film_mm.len())
            .map(|place| pooled(place, asked, &chosen, &others, dispersion).scattered(self.scatters));
        let names = self.others.iter().zip(&others).filter(|(_, traced)| traced.is_some());
        Ok(PredictedFigures {
            others: names.map(|((name, _), _)| name.clone()).collect(),
            focus_mm: chosen.focus_mm,
            f_number: chosen.f_number,
            places: places.collect(),
            forms: self.forms.clone(),
        })
    }
}

/// The first converter of a set-up.
fn converter(setup: &Setup<'_>) -> Option<String> {
    let mut parts = setup.choices().iter().filter_map(|choice| choice.part());
    parts.find(|part| part.kind() == kit::Kind::Teleconverter).map(|part| part.id().to_owned())
}

/// The other forms that could stand for the same lens, the likeliest first: of its kind; of its class, general-purpose camera lenses
/// of a flat field or not; by what can be seen of it.
fn alike(design: &Design) -> Vec<&'static Form> {
    let known = design.known_as();
    let others = rays::nearest_forms(&design.looks()).into_iter();
    let mut others: Vec<&'static Form> =
        others.filter(|other| known.is_none_or(|known| known.key != other.key)).collect();
    // A table that is no form of the library has no kind; it is a camera lens's until somebody says otherwise. A stable sort keeps the
    // order of looks within each.
    let flat = known.is_none_or(|form| is_flat(form.kind));
    others.sort_by_key(|other| (is_flat(other.kind) != flat, known.is_some_and(|known| other.kind != known.kind)));
    others
}

/// Whether lenses of a kind are made for all purposes with a flat field; the others are for infinity alone, a narrow field, or a very
/// wide one.
fn is_flat(kind: Kind) -> bool {
    matches!(kind, Kind::TripletDerived | Kind::DoubleGauss | Kind::Symmetrical)
}

/// Some work on as many threads as there are cores, in order.
fn side_by_side<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let work = &work;
    let one = move |thread: usize| -> Vec<(usize, R)> {
        items.iter().enumerate().skip(thread).step_by(threads).map(|(at, item)| (at, work(item))).collect()
    };
    let one = &one;
    let mut found: Vec<(usize, R)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|thread| scope.spawn(move || one(thread))).collect();
        // A thread that panicked takes this one with it, with its own words.
        workers.into_iter().flat_map(|w| w.join().unwrap_or_else(|why| std::panic::resume_unwind(why))).collect()
    });
    found.sort_by_key(|(at, _)| *at);
    found.into_iter().map(|(_, result)| result).collect()
}

/// One figure at one focus: at the soft and at the fine end of film and scanner.
type Ends = [f64; 2];

/// What one form does at one place, at each of the [`NODES`] of the focus.
struct TracedPlace {
    resolution: Vec<[Ends; 3]>,
    contrast: Vec<[Ends; 3]>,
    fringing_um: f64,
}

/// One form in the set-up.
struct Traced {
    places: Vec<Option<TracedPlace>>,
    focus_mm: f64,
    f_number: f64,
    dispersion: bool,
}

/// Standard deviations and weights of the three points of Gauss and Hermite for a normal distribution.
const NODES: [(f64, f64); 3] =
    [(-1.732_050_807_568_877_2, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877_2, 1.0 / 6.0)];

impl Traced {
    fn of(set_up: &SetUp, wanted: f64, asked: &Foresee) -> Result<Self, BenchError> {
        let spectrum = spectrum()?;
        let as_engraved = set_up.system(spectrum.main_line())?.first_order(spectrum.main_line()).f_number;
        // Light goes as the opening's width, so that one step is exact to first order.
        let ratio = if wanted.is_finite() { wanted / as_engraved } else { 1.0 };
        let set_up = &SetUp { f_number: set_up.f_number * ratio, ..set_up.clone() };
        let system = set_up.system(spectrum.main_line())?;
        let places = vec![0.0, FOCUS_OUT_TO * asked.corner_mm];
        let by_eye = Question {
            film_mm: Vec::new(),
            cycles_per_mm: Vec::new(),
            spectrum: Spectrum::one(spectrum.main_line()),
            focus: Criterion::MostContrast { film_mm: places, cycles_per_mm: FOCUS_CYCLES_PER_MM },
        };
        let best_mm = by_eye.focus(&system)?;
        let f_number = system.first_order(spectrum.main_line()).f_number;
        let focus_mm = focus_error_mm(f_number);
        let question = Question { spectrum, ..by_eye };
        let shifts = NODES.map(|(sigmas, _)| best_mm + sigmas * focus_mm / COVERAGE_95);
        let place = |film_mm: &f64| traced_place(&system, &question, *film_mm, &shifts, f_number, asked);
        // The middle must be lit; what is dark elsewhere has no figure.
        lit(&system, &question, 0.0, &shifts)?;
        let dispersion =
            set_up.lens.dispersion_known() && set_up.in_front.iter().all(|part| part.lens.dispersion_known());
        Ok(Self { places: asked.film_mm.iter().map(place).collect(), focus_mm, f_number, dispersion })
    }
}

fn spectrum() -> Result<Spectrum, BenchError> {
    let wrong = |why: &dyn std::fmt::Display| BenchError::Colours(why.to_string());
    let line = |(nm, weight): (f64, f64)| Ok((Wavelength::from_um(nm * 1e-3).map_err(|why| wrong(&why))?, weight));
    let lines = LAYERS.into_iter().map(line).collect::<Result<Vec<_>, BenchError>>()?;
    Spectrum::new(lines, GREEN).map_err(|why| wrong(&why))
}

/// How far off the film may be before an eye sees it, mm: x²/8 = [`SEEN`] with x = πνδ/N.
fn focus_error_mm(f_number: f64) -> f64 {
    f_number * (8.0 * SEEN).sqrt() / (std::f64::consts::PI * FOCUS_CYCLES_PER_MM)
}

/// Frequencies at which curves are read, and the finest that is looked for, cycles/mm: no film and scanner show more.
const POINTS: usize = 48;
const FINEST: f64 = 160.0;

fn traced_place(
    system: &System,
    question: &Question,
    film_mm: f64,
    shifts: &[f64; 3],
    f_number: f64,
    asked: &Foresee,
) -> Option<TracedPlace> {
    let pencil = lit(system, question, film_mm, shifts).ok()?;
    let cut_off = 1.0 / (question.spectrum.main_line().mm() * f_number);
    let finest = cut_off.min(FINEST);
    let grid: Vec<f64> = (0..=POINTS).map(|i| finest * i as f64 / POINTS as f64).collect();
    let curves = shifts.map(|shift| weaker(&pencil, shift, &grid));
    let at = |f: &f64| shifts.map(|shift| weaker(&pencil, shift, std::slice::from_ref(f))[0]);
    let ends = |curve: &Vec<f64>, contrast: f64| {
        [0, 1].map(|end| {
            let left: Vec<f64> = grid.iter().zip(curve).map(|(f, c)| c * asked.chain.leaves(*f)[end]).collect();
            crossing(&grid, &left, contrast)
        })
    };
    let resolution = asked.contrasts.iter().map(|contrast| curves.each_ref().map(|curve| ends(curve, *contrast)));
    let contrast =
        asked.cycles_per_mm.iter().map(|f| at(f).map(|left| asked.chain.leaves(*f).map(|share| share * left)));
    Some(TracedPlace {
        resolution: resolution.collect(),
        contrast: contrast.collect(),
        fringing_um: fringing_um(&pencil, shifts[1]),
    })
}

/// Grid cells across a pupil to begin with, and the most that waves are worth: beyond, the blur is large and rays tell it as well.
const SAMPLES: usize = 64;
const MOST_SAMPLES: usize = 256;
/// Waves hold while the phase runs less than this from cell to cell (see [`Pencil::phase_step`]).
const MOST_PHASE_STEP: f64 = 0.5;

/// The light of a place on film, on a grid fine enough for waves; on the first one where none would be.
fn lit(system: &System, question: &Question, film_mm: f64, shifts: &[f64; 3]) -> Result<Pencil, AimError> {
    let main = question.spectrum.main_line();
    let outward = film_mm.copysign(system.first_order(main).scale);
    let field = if film_mm == 0.0 { 0.0 } else { system.field_at_film(outward, main)? };
    let coarse = system.pencil(field, &question.spectrum, SAMPLES)?;
    let step = shifts.iter().map(|shift| coarse.phase_step(*shift)).fold(0.0, f64::max);
    let wanted = SAMPLES as f64 * step / MOST_PHASE_STEP * 1.1;
    if step < MOST_PHASE_STEP || wanted > MOST_SAMPLES as f64 {
        return Ok(coarse);
    }
    system.pencil(field, &question.spectrum, wanted as usize)
}

/// Contrast the weaker way round.
fn weaker(pencil: &Pencil, shift_mm: f64, cycles_per_mm: &[f64]) -> Vec<f64> {
    let found = match pencil.phase_step(shift_mm) < MOST_PHASE_STEP {
        true => pencil.transfer(shift_mm, cycles_per_mm, |_| 1.0),
        false => pencil.geometric(shift_mm, cycles_per_mm),
    };
    found.iter().map(|t| t.sagittal.abs().min(t.tangential.contrast())).collect()
}

/// Where a curve first falls below a contrast, by straight lines; its end where it never does.
fn crossing(grid: &[f64], curve: &[f64], contrast: f64) -> f64 {
    let below = curve.iter().position(|left| *left < contrast);
    match below {
        None => grid[grid.len() - 1],
        Some(0) => grid[0],
        Some(at) => {
            let share = (curve[at - 1] - contrast) / (curve[at - 1] - curve[at]);
            grid[at - 1] + share * (grid[at] - grid[at - 1])
        }
    }
}

/// The larger displacement of the middle of red or blue light from green's.
fn fringing_um(pencil: &Pencil, shift_mm: f64) -> f64 {
    let colours: Vec<Wavelength> = pencil.wavelengths().collect();
    let mut sums = vec![(0.0, 0.0); colours.len()];
    for point in pencil.points(shift_mm) {
        if let Some(at) = colours.iter().position(|colour| *colour == point.wavelength) {
            sums[at].0 += point.weight;
            sums[at].1 += point.weight * point.y_mm;
        }
    }
    let middles: Vec<f64> = sums.iter().map(|(weight, sum)| sum / weight).collect();
    middles.iter().map(|middle| 1000.0 * (middle - middles[GREEN]).abs()).fold(0.0, f64::max)
}

/// Mean over the focus and the half-width of that, at the middle between both ends of film and scanner, and half of what parts them.
fn over_focus(at: &[Ends; 3]) -> [f64; 3] {
    let mean =
        |of: &dyn Fn(&Ends) -> f64| NODES.iter().zip(at).map(|((_, weight), ends)| weight * of(ends)).sum::<f64>();
    let middle = |ends: &Ends| 0.5 * (ends[0] + ends[1]);
    let value = mean(&middle);
    let spread = mean(&|ends| (middle(ends) - value).powi(2)).sqrt();
    [value, COVERAGE_95 * spread, mean(&|ends| 0.5 * (ends[1] - ends[0]).abs())]
}

fn pooled(
    place: usize,
    asked: &Foresee,
    chosen: &Traced,
    others: &[Option<Traced>],
    dispersion: bool,
) -> ForetoldPlace {
    let at = |traced: &Traced, of: &dyn Fn(&TracedPlace) -> [f64; 3]| traced.places[place].as_ref().map(of);
    let figure = |of: &dyn Fn(&TracedPlace) -> [f64; 3], counts: &dyn Fn(&Traced) -> bool| {
        let found = at(chosen, of)?;
        let others = others.iter().map(|other| Some(at(other.as_ref().filter(|other| counts(other))?, of)?[0]));
        foretold(found, others.collect())
    };
    let every = |_: &Traced| true;
    let resolution = |i: usize| figure(&|place| over_focus(&place.resolution[i]), &every);
    let contrast = |i: usize| figure(&|place| over_focus(&place.contrast[i]), &every);
    let fringing = || figure(&|place| [place.fringing_um, 0.0, 0.0], &|traced| traced.dispersion);
    ForetoldPlace {
        film_mm: asked.film_mm[place],
        resolution: (0..asked.contrasts.len()).map(resolution).collect(),
        contrast: (0..asked.cycles_per_mm.len()).map(contrast).collect(),
        // A form whose glass counts as free of colour says nothing of it.
        fringing_um: if dispersion { fringing() } else { None },
    }
}

/// With the scatter of the others about it; nothing where there are too few.
fn foretold([value, of_focus, of_chain]: [f64; 3], others: Vec<Option<f64>>) -> Option<Foretold> {
    let of_form = of_form(value, &others)?;
    Some(Foretold { value, of_form, of_focus, of_chain, others })
}

/// Student's t times the root mean square of what the others differ by.
fn of_form(value: f64, others: &[Option<f64>]) -> Option<f64> {
    let off: Vec<f64> = others.iter().flatten().map(|other| (other - value).powi(2)).collect();
    let student = STUDENT.get(off.len().checked_sub(LEAST_OTHERS)?)?;
    Some(student * (off.iter().sum::<f64>() / off.len() as f64).sqrt())
}

#[cfg(test)]
mod tests;
