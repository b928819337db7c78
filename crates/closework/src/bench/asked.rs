//! A form or a typed table with attachments, and what exact rays say of it over the frame.

use super::words;
use rays::{
    AimError, CloseUp, CloseUpError, Colours, Criterion, Draw, Form, Object, Part, Pencil, Prediction, Prescription,
    Question, Seidel, SetUp, SetUpError, Spectrum, System, TableError, Transfer, Wavelength, Zone, form,
};

/// A lens on the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Glass {
    /// A form of the library, by its key.
    Form(String),
    /// A table as it was typed or pasted.
    Table(String),
}

/// What is put on the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The lens at the camera.
    pub glass: Glass,
    /// Its focal length, mm; as printed where it is left out.
    pub focal_length_mm: Option<f64>,
    /// The engraved f-number.
    pub f_number: f64,
    /// Whether it is turned round.
    pub reversed: bool,
    /// How far from the film.
    pub draw: Draw,
    /// A close-up lens in front.
    pub close_up: Option<InFront>,
    /// A second lens turned round in front.
    pub coupled: Option<Coupled>,
    /// Places on film, mm from the middle.
    pub film_mm: Vec<f64>,
    /// Frequencies on film, cycles/mm.
    pub cycles_per_mm: Vec<f64>,
    /// What it is focused for.
    pub focus: Focus,
}

/// A close-up lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InFront {
    /// What it is.
    pub lens: CloseUp,
    /// Whether its flatter side faces the subject.
    pub turned: bool,
    /// Its last glass to the lens's first, mm.
    pub gap_mm: f64,
}

/// A lens turned round in front of the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Coupled {
    /// Which.
    pub glass: Glass,
    /// Its focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// What its own iris is opened to; as wide as the form is printed to go where it is left out.
    pub f_number: Option<f64>,
    /// Glass to glass, mm.
    pub gap_mm: f64,
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
}

/// What the bench says.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The form, where it is one of the library.
    pub form: Option<&'static Form>,
    /// The lens as it was traced, its normal way round.
    pub lens: Prescription,
    /// Everything from subject to film.
    pub system: System,
    /// What it does.
    pub prediction: Prediction,
    /// Sums of the third order, surface by surface, for the outermost place asked for.
    pub sums: Seidel,
    /// Contrast at the first frequency asked for with the film moved from where it was focused.
    pub through_focus: Vec<Plane>,
    /// What to know about it.
    pub remarks: Vec<String>,
}

/// One plane through focus.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Away from the lens, mm from where the film was focused.
    pub shift_mm: f64,
    /// One for every place; none where it is dark.
    pub transfers: Vec<Option<Transfer>>,
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
    Table(#[from] TableError),
    /// A table of no focal length.
    #[error("the lens table has no focal length: it cannot be made one of {0} mm")]
    NoPower(f64),
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
}

impl Glass {
    /// The lens and, where it is one, its form.
    fn lens(&self, focal_length_mm: Option<f64>) -> Result<(Prescription, Option<&'static Form>), TraceError> {
        let (lens, form) = match self {
            Self::Table(text) => (Prescription::read(text)?.lens, None),
            Self::Form(key) => {
                let known = || rays::FORMS.iter().map(|form| form.key).collect();
                let form = form(key).ok_or_else(|| TraceError::NoForm { key: key.clone(), known: known() })?;
                (form.prescription(), Some(form))
            }
        };
        let Some(wanted) = focal_length_mm else { return Ok((lens, form)) };
        let own = lens.at(Wavelength::D).cardinal().ok_or(TraceError::NoPower(wanted))?.focal_length_mm;
        Ok((lens.scaled(wanted / own).map_err(|_| TraceError::Size(wanted))?, form))
    }
}

impl Asked {
    /// What stands in front, from the subject on.
    fn in_front(&self) -> Result<Vec<Part>, TraceError> {
        let mut parts = Vec::new();
        if let Some(coupled) = &self.coupled {
            let (lens, form) = coupled.glass.lens(coupled.focal_length_mm)?;
            let open = coupled.f_number.or(form.and_then(|form| form.published_f_number));
            let lens = open.map_or(Ok(lens.clone()), |open| lens.opened_to(open, Wavelength::D))?;
            parts.push(Part { lens: lens.reversed(), gap_after_mm: coupled.gap_mm });
        }
        if let Some(in_front) = &self.close_up {
            let lens = in_front.lens.prescription()?;
            let lens = if in_front.turned { lens.reversed() } else { lens };
            parts.push(Part { lens, gap_after_mm: in_front.gap_mm });
        }
        Ok(parts)
    }

    fn question(&self) -> Question {
        let contrast = |film_mm: Vec<f64>| Criterion::MostContrast { film_mm, cycles_per_mm: self.first_frequency() };
        Question {
            film_mm: self.film_mm.clone(),
            cycles_per_mm: self.cycles_per_mm.clone(),
            spectrum: Spectrum::visible(),
            focus: match self.focus {
                Focus::AsSet => Criterion::AsItIs,
                Focus::Middle => contrast(vec![0.0]),
                Focus::Field => contrast(self.film_mm.clone()),
            },
        }
    }

    fn first_frequency(&self) -> f64 {
        self.cycles_per_mm.first().copied().unwrap_or(20.0)
    }

    /// Traces it.
    pub fn trace(&self) -> Result<Found, TraceError> {
        let (lens, form) = self.glass.lens(self.focal_length_mm)?;
        let set_up = SetUp {
            lens: lens.clone(),
            f_number: self.f_number,
            reversed: self.reversed,
            in_front: self.in_front()?,
            behind: Vec::new(),
            draw: self.draw,
        };
        let system = set_up.system(Wavelength::D)?;
        let question = self.question();
        let focus_mm = question.focus(&system)?;
        let axis = question.pencil(&system, 0.0, focus_mm)?;
        let zones = at_every_place(&self.film_mm, |film_mm| question.zone(&system, film_mm, focus_mm, &axis));
        let prediction = Prediction { zones, ..Prediction::without_zones(&system, &question, focus_mm) };
        let through_focus = self.through_focus(&system, &question, &prediction);
        let farthest = prediction.zones.iter().flatten().map(|zone| zone.field).fold(0.0, f64::max);
        let sums = system.seidel(farthest, Colours::default());
        let remarks = words::remarks(form, &lens, &prediction);
        Ok(Found { form, lens, system, prediction, sums, through_focus, remarks })
    }

    /// Planes either way of the focus, as far as a perfect lens would lose the first frequency and a little beyond.
    fn through_focus(&self, system: &System, question: &Question, told: &Prediction) -> Vec<Plane> {
        let step = told.f_number / self.first_frequency() / PLANES_TO_A_CONE;
        let shifts: Vec<f64> = (-PLANES..=PLANES).map(|i| f64::from(i) * step).collect();
        let pencil = |zone: &Result<Zone, AimError>| {
            let zone = zone.as_ref().ok()?;
            question.pencil(system, zone.film_mm, told.focus_mm + shifts[0]).ok()
        };
        let pencils: Vec<Option<Pencil>> = told.zones.iter().map(pencil).collect();
        let contrast = |pencil: &Pencil, shift: f64| {
            pencil.transfer(told.focus_mm + shift, &[self.first_frequency()], |_| 1.0).first().copied()
        };
        let plane = |shift_mm: f64| Plane {
            shift_mm,
            transfers: pencils.iter().map(|pencil| contrast(pencil.as_ref()?, shift_mm)).collect(),
        };
        shifts.iter().map(|shift| plane(*shift)).collect()
    }
}

/// Planes either side of the focus, and how many of them to an f-number over the frequency, near where a perfect lens first
/// loses it.
const PLANES: i32 = 6;
const PLANES_TO_A_CONE: f64 = 4.0;

/// Places side by side on as many threads as there are cores.
fn at_every_place<T: Send>(film_mm: &[f64], at: impl Fn(f64) -> T + Sync) -> Vec<T> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let each = film_mm.len().div_ceil(cores).max(1);
    std::thread::scope(|scope| {
        let at = &at;
        let lots: Vec<_> = film_mm
            .chunks(each)
            .map(|lot| scope.spawn(move || lot.iter().map(|film_mm| at(*film_mm)).collect::<Vec<T>>()))
            .collect();
        // A thread that panicked takes this one with it, with its own words.
        lots.into_iter().flat_map(|lot| lot.join().unwrap_or_else(|why| std::panic::resume_unwind(why))).collect()
    })
}

impl Found {
    /// Subject to the foremost glass, mm; `None` at infinity.
    pub fn subject_mm(&self) -> Option<f64> {
        match self.system.object() {
            Object::Infinity => None,
            Object::At { distance_mm } => Some(distance_mm),
        }
    }
}
