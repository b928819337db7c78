//! Glass with everything on and in front of it, and what exact rays say of it over the frame.

use super::design::{Design, OwnTableError};
use super::frame::{FOCUS_CYCLES_PER_MM, FOCUS_OUT_TO};
use super::map::FrameMap;
use super::words;
use rays::{
    AimError, CloseUpError, Colours, Criterion, Fan, Object, Pencil, Prediction, Prescription, Question, Seidel, SetUp,
    SetUpError, Spectrum, System, Transfer, Wavelength, Zone,
};
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What is to be told of a set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Places on film, mm from the middle.
    pub film_mm: Vec<f64>,
    /// Frequencies on film, cycles/mm.
    pub cycles_per_mm: Vec<f64>,
    /// The frequency by which it is focused, and that the curves over the field and the map are for.
    pub main_cycles_per_mm: f64,
    /// Frequencies of the curves through focus, cycles/mm.
    pub through_focus: Vec<f64>,
    /// What it is focused for.
    pub focus: Focus,
    /// Where the film leaves half of the contrast, cycles/mm; contrast is that of the lens alone where it is left out.
    pub film_half: Option<f64>,
    /// The frame's sides on film, mm.
    pub frame_mm: [f64; 2],
}

/// What a person focuses for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Focus {
    /// Nothing: as the first order has it.
    AsSet,
    /// The sharpest middle.
    Middle,
    /// The highest mean contrast at all places.
    Field,
    /// As a person does on a ground glass who looks at the subject and not at the corners: coarse patterns in one colour, in the
    /// middle and a third of the way out. Predicted frames are focused so.
    GroundGlass,
}

/// What the bench says.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What stands for the lens whose iris is used.
    pub design: Design,
    /// That lens as it was traced, its normal way round.
    pub lens: Prescription,
    /// Everything from subject to film, the film where it was focused to.
    pub system: System,
    /// What it does.
    pub prediction: Prediction,
    /// Sums of the third order, surface by surface, for the outermost place asked for.
    pub sums: Seidel,
    /// Contrast with the film moved from where it was focused.
    pub through_focus: Vec<Plane>,
    /// Single rays, one for every place; none where it is dark.
    pub rays: Vec<Option<PlaceRays>>,
    /// From the middle to the farthest corner in even steps, contrast at the main frequency alone.
    pub over_field: Vec<(f64, Result<Zone, AimError>)>,
    /// The frame, by the same.
    pub map: FrameMap,
    /// What to know about it.
    pub remarks: Vec<String>,
}

/// One plane through focus.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Away from the lens, mm from where the film was focused.
    pub shift_mm: f64,
    /// For every place one for every frequency of the curves through focus; none where it is dark.
    pub transfers: Vec<Option<Vec<Transfer>>>,
}

/// Where single rays from one place in the field meet the film.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceRays {
    /// For every colour the rays of an even grid over the pupil: across and outwards, mm from the main colour's chief ray.
    pub spots: Vec<(Wavelength, Vec<[f64; 2]>)>,
    /// For every colour rays along both diameters of the stop. A positive place in the stop lies on the side of the place in
    /// the field, and a positive tangential miss outwards on film.
    pub fans: Vec<(Wavelength, Fan)>,
}

/// Why the bench says nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TraceError {
    /// No such form.
    #[error("there is no form “{key}”; there are {}", .known.join(", "))]
    NoForm {
        /// As asked for.
        key: String,
        /// Every key.
        known: Vec<&'static str>,
    },
    /// A table that cannot be read.
    #[error("the lens table: {0}")]
    Table(#[from] OwnTableError),
    /// A size that is none.
    #[error("a lens cannot be made one of {0} mm focal length")]
    Size(f64),
    /// A close-up lens that cannot be.
    #[error("{0}")]
    CloseUp(#[from] CloseUpError),
    /// Parts that make no set-up.
    #[error("{0}")]
    SetUp(#[from] SetUpError),
    /// No light where it is focused for.
    #[error("it cannot be focused: {0}")]
    Dark(#[from] AimError),
    /// Somebody asked it to stop.
    #[error("it was stopped")]
    Stopped,
}

/// Hears the share done, and may stop the work.
pub type Heard<'a> = &'a (dyn Fn(f64) -> ControlFlow<()> + Sync);

/// For whoever waits to the end.
pub fn unheard(_: f64) -> ControlFlow<()> {
    ControlFlow::Continue(())
}

/// Steps from the middle to the corner.
const FIELD_STEPS: usize = 12;
/// Grid cells across the pupil for the spots: some two hundred rays a colour.
const SPOT_SAMPLES: usize = 16;
/// Rays from the chief ray to the rim.
const FAN_RAYS: usize = 16;
/// Planes either side of the focus, and how many of them to an f-number over the frequency, near where a perfect lens first
/// loses it.
const PLANES: i32 = 6;
const PLANES_TO_A_CONE: f64 = 4.0;

/// Share of contrast that a film leaves which halves it at `half` cycles/mm: light spreads in the layer and falls off
/// exponentially to either side, whose transform is 1/(1 + (ν/ν½)²) (H. Frieser's law of the 1950s, from memory).
pub fn film_response(half: f64, cycles_per_mm: f64) -> f64 {
    1.0 / (1.0 + (cycles_per_mm / half).powi(2))
}

impl Wanted {
    /// Middle to corner, mm on film.
    pub fn corner_mm(&self) -> f64 {
        0.5 * self.frame_mm[0].hypot(self.frame_mm[1])
    }

    fn question(&self) -> Question {
        let contrast = |film_mm: Vec<f64>| Criterion::MostContrast { film_mm, cycles_per_mm: self.main_cycles_per_mm };
        Question {
            film_mm: self.film_mm.clone(),
            cycles_per_mm: self.cycles_per_mm.iter().copied().chain([self.main_cycles_per_mm]).collect(),
            spectrum: Spectrum::visible(),
            focus: match self.focus {
                Focus::AsSet => Criterion::AsItIs,
                Focus::Middle => contrast(vec![0.0]),
                Focus::Field => contrast(self.film_mm.clone()),
                Focus::GroundGlass => Criterion::MostContrast {
                    film_mm: vec![0.0, FOCUS_OUT_TO * self.corner_mm()],
                    cycles_per_mm: FOCUS_CYCLES_PER_MM,
                },
            },
        }
    }

    fn focus_mm(&self, question: &Question, system: &System) -> Result<f64, AimError> {
        match self.focus {
            // A person's eye is sharpest in green.
            Focus::GroundGlass => {
                Question { spectrum: Spectrum::one(question.spectrum.main_line()), ..question.clone() }.focus(system)
            }
            _ => question.focus(system),
        }
    }

    fn field_places(&self) -> impl Iterator<Item = f64> {
        let farthest = self.film_mm.iter().copied().fold(self.corner_mm(), f64::max);
        (0..=FIELD_STEPS).map(move |step| farthest * step as f64 / FIELD_STEPS as f64)
    }

    /// With the film behind it, where one is asked for.
    fn on_film(&self, transfer: &mut Transfer, cycles_per_mm: f64) {
        let share = self.film_half.map_or(1.0, |half| film_response(half, cycles_per_mm));
        transfer.sagittal *= share;
        transfer.tangential.re *= share;
        transfer.tangential.im *= share;
    }

    fn zone_on_film(&self, zone: &mut Zone) {
        let frequencies = self.cycles_per_mm.iter().chain([&self.main_cycles_per_mm]);
        zone.transfer.iter_mut().zip(frequencies).for_each(|(transfer, lp)| self.on_film(transfer, *lp));
    }
}

/// Traces glass, as it was put together, over the frame.
///
/// # Errors
///
/// When the glass makes no set-up, no light reaches the places that it is focused for, or `heard` stops it.
pub fn trace(set_up: &SetUp, design: Design, wanted: &Wanted, heard: Heard<'_>) -> Result<Found, TraceError> {
    let system = set_up.system(Wavelength::D)?;
    let question = wanted.question();
    let focus_mm = wanted.focus_mm(&question, &system)?;
    let axis = question.pencil(&system, 0.0, focus_mm)?;
    let asked = wanted.film_mm.len();
    let places: Vec<f64> = wanted.film_mm.iter().copied().chain(wanted.field_places()).collect();
    let zone = |film_mm: f64| question.zone(&system, film_mm, focus_mm, &axis);
    let mut zones = at_every_place(&places, zone, heard).ok_or(TraceError::Stopped)?;
    zones.iter_mut().flatten().for_each(|zone| wanted.zone_on_film(zone));
    let mut over_field: Vec<(f64, Result<Zone, AimError>)> =
        places[asked..].iter().copied().zip(zones.split_off(asked)).collect();
    let main_alone = |zone: &mut Zone| zone.transfer = zone.transfer.split_off(wanted.cycles_per_mm.len());
    over_field.iter_mut().flat_map(|(_, zone)| zone).for_each(main_alone);
    zones.iter_mut().flatten().for_each(|zone| zone.transfer.truncate(wanted.cycles_per_mm.len()));
    let prediction = Prediction { zones, ..Prediction::without_zones(&system, &question, focus_mm) };
    let through_focus = through_focus(&system, &question, &prediction, wanted);
    let farthest = prediction.zones.iter().flatten().map(|zone| zone.field).fold(0.0, f64::max);
    let sums = system.seidel(farthest, Colours::default());
    // Fans and drawings ask for the film where it was focused to.
    let focused = system.clone().with_film_moved(focus_mm).unwrap_or_else(|_| system.clone());
    let rays =
        prediction.zones.iter().map(|zone| place_rays(&system, &focused, &question, zone.as_ref().ok()?, focus_mm));
    Ok(Found {
        lens: set_up.lens.clone(),
        rays: rays.collect(),
        map: FrameMap::of(wanted.frame_mm, &over_field),
        remarks: words::remarks(&design, set_up, &prediction),
        design,
        system: focused,
        prediction,
        sums,
        through_focus,
        over_field,
    })
}

/// Planes either way of the focus, as far as a perfect lens would lose the main frequency and a little beyond.
fn through_focus(system: &System, question: &Question, told: &Prediction, wanted: &Wanted) -> Vec<Plane> {
    let main = wanted.main_cycles_per_mm;
    let step = told.f_number / main / PLANES_TO_A_CONE;
    let shifts: Vec<f64> = (-PLANES..=PLANES).map(|i| f64::from(i) * step).collect();
    let pencil = |zone: &Result<Zone, AimError>| {
        let zone = zone.as_ref().ok()?;
        question.pencil(system, zone.film_mm, told.focus_mm + shifts[0]).ok()
    };
    let pencils: Vec<Option<Pencil>> = told.zones.iter().map(pencil).collect();
    let contrast = |pencil: &Pencil, shift: f64| {
        let mut transfers = pencil.transfer(told.focus_mm + shift, &wanted.through_focus, |_| 1.0);
        transfers.iter_mut().zip(&wanted.through_focus).for_each(|(transfer, lp)| wanted.on_film(transfer, *lp));
        transfers
    };
    let plane = |shift_mm: f64| Plane {
        shift_mm,
        transfers: pencils.iter().map(|pencil| Some(contrast(pencil.as_ref()?, shift_mm))).collect(),
    };
    shifts.iter().map(|shift| plane(*shift)).collect()
}

/// Spots and fans of one place; none where the rays cannot be aimed.
fn place_rays(system: &System, focused: &System, question: &Question, zone: &Zone, focus_mm: f64) -> Option<PlaceRays> {
    let pencil = system.pencil(zone.field, &question.spectrum, SPOT_SAMPLES).ok()?;
    let outward = if pencil.film_mm < 0.0 { -1.0 } else { 1.0 };
    let of_colour = |colour: Wavelength| {
        let points: Vec<_> = pencil.points(focus_mm).filter(|point| point.wavelength == colour).collect();
        // Cells at the rim count by their open share; as single rays those are shown of which at least half is open.
        let whole = points.iter().map(|point| point.weight).fold(0.0, f64::max);
        let inside = points.iter().filter(|point| 2.0 * point.weight >= whole);
        (colour, inside.map(|point| [point.x_mm, outward * point.y_mm]).collect())
    };
    let fan = |colour: Wavelength| {
        let mut fan = focused.fan(zone.field, colour, FAN_RAYS).ok()?;
        fan.tangential.iter_mut().flatten().for_each(|ray| ray.miss_mm[1] *= outward);
        Some((colour, fan))
    };
    Some(PlaceRays {
        spots: question.spectrum.wavelengths().map(of_colour).collect(),
        fans: question.spectrum.wavelengths().filter_map(fan).collect(),
    })
}

/// Places side by side on as many threads as there are cores; nothing when it was stopped.
fn at_every_place<T: Send>(film_mm: &[f64], at: impl Fn(f64) -> T + Sync, heard: Heard<'_>) -> Option<Vec<T>> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let (done, count) = (AtomicUsize::new(0), film_mm.len().max(1) as f64);
    let one = |film_mm: &f64| {
        if heard(done.fetch_add(1, Ordering::Relaxed) as f64 / count).is_break() {
            return None;
        }
        Some(at(*film_mm))
    };
    // Neighbours take about as long as each other: every thread takes every so-many-th.
    std::thread::scope(|scope| {
        let one = &one;
        let lots: Vec<_> = (0..cores)
            .map(|first| scope.spawn(move || film_mm.iter().skip(first).step_by(cores).map(one).collect::<Vec<_>>()))
            .collect();
        // A thread that panicked takes this one with it, with its own words.
        let lots = lots.into_iter().map(|lot| lot.join().unwrap_or_else(|why| std::panic::resume_unwind(why)));
        let mut lots: Vec<_> = lots.map(Vec::into_iter).collect();
        (0..film_mm.len()).map(|place| lots[place % cores].next()?).collect()
    })
}

impl Found {
    /// Of the lens whose iris is used, as it was traced, mm; infinite without power.
    pub fn focal_length_mm(&self) -> f64 {
        self.lens.at(Wavelength::D).cardinal().map_or(f64::INFINITY, |of| of.focal_length_mm)
    }

    /// What stands beside every figure of it.
    pub fn label(&self) -> &str {
        // The first remark is always that.
        self.remarks.first().map_or(words::NOT_YOURS, String::as_str)
    }

    /// Subject to the foremost glass, mm; `None` at infinity.
    pub fn subject_mm(&self) -> Option<f64> {
        match self.system.object() {
            Object::Infinity => None,
            Object::At { distance_mm } => Some(distance_mm),
        }
    }
}
