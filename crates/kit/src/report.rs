//! Every figure of a set-up with its uncertainty, and what a photographer should know about it.

use crate::resolve::Setup;
use crate::setup_error::SetupError;
use crate::spec::{CloseRange, FocusSpec, LensSpec, Mounting, Separation};
use optics::{Dual, Estimate, Figure, Figures, Input, propagate};

/// What a set-up gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Every figure; one is missing where it is infinite.
    pub figures: Figures<Estimate>,
    /// The part whose aperture limits the light.
    pub limited_by: String,
    /// Fields whose defaults were used, as "part.field".
    pub assumed: Vec<String>,
    /// What to know before relying on it.
    pub warnings: Vec<Warning>,
}

/// Something to know about a set-up before relying on it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Warning {
    /// The three marks of a lens disagree.
    #[error("lens \"{lens}\": close_focus_mm was left out: it lies {} mm {} than max_magnification and principal_separation_mm imply; check the three", round(.off_mm.abs()), if *.off_mm > 0.0 { "farther" } else { "nearer" })]
    MarksDisagree {
        /// The lens.
        lens: String,
        /// Stated less implied, mm.
        off_mm: f64,
    },
    /// The principal separation is a small difference of large marks.
    #[error("lens \"{lens}\": its principal separation of {} ± {} mm was worked out from close_focus_mm and max_magnification, a small difference of large figures; a frame of a ruler at a known extension would calibrate it", round(*.value), round(*.plus_minus))]
    SeparationFromMarks {
        /// The lens.
        lens: String,
        /// mm.
        value: f64,
        /// mm.
        plus_minus: f64,
    },
    /// The lens's travel is not limited by anything stated.
    #[error("lens \"{0}\": the kit does not say how far it travels, so the travel asked for is not checked")]
    TravelUnchecked(String),
    /// The working distance may be nothing.
    #[error("the subject comes within {} mm of the set-up, and the uncertainty is as large: the front may touch it", round(*.0))]
    MayTouch(f64),
    /// Diffraction is coarser than the blur that counts as sharp.
    #[error("diffraction (Airy disc {} µm on film) is coarser than the disc that counts as sharp ({} µm): nothing in this frame will look critically sharp; open up", round(*.airy_um), round(*.coc_um))]
    Diffraction {
        /// Diameter of the Airy disc, µm.
        airy_um: f64,
        /// Circle of confusion, µm.
        coc_um: f64,
    },
    /// The image circle, grown with the extension, is smaller than the frame's diagonal.
    #[error("lens \"{lens}\": its image circle of {circle_mm} mm at infinity is smaller than the frame's diagonal of {} mm; even with this extension it does not fill the corners", round(*.diagonal_mm))]
    SmallCircle {
        /// The lens.
        lens: String,
        /// Stated, mm.
        circle_mm: f64,
        /// mm.
        diagonal_mm: f64,
    },
    /// A leaf shutter that nothing works.
    #[error(
        "lens \"{0}\" has the shutter inside it and is reversed: check that shutter and stop can still be worked, or make the exposure with another shutter, a cap or a flash in the dark"
    )]
    ReversedShutter(String),
    /// An iris that nothing works.
    #[error(
        "lens \"{0}\" stops down only through the body's linkage, which tubes, bellows and reversing rings may not carry: check that the iris closes before trusting depth and exposure"
    )]
    CoupledIris(String),
    /// Depth by the pupils is a linear figure near its pole.
    #[error("the far limit of depth is close to infinity; its uncertainty is only an indication")]
    FarLimitSteep,
}

/// A distance above this may be uncertain by as much, but nothing can touch there (common practice, no source).
const WITHIN_REACH_MM: f64 = 100.0;

fn round(figure: f64) -> String {
    let text = if figure.abs() >= 10.0 { format!("{figure:.0}") } else { format!("{figure:.1}") };
    text.replacen('-', "\u{2212}", 1)
}

impl Setup<'_> {
    /// Every figure with its uncertainty.
    pub fn report(&self) -> Result<Report, SetupError> {
        let figures = self.estimates()?;
        self.check_closest_mark()?;
        if let Some(distance) = figures.get(Figure::WorkingDistance)
            && distance.value < 0.0
        {
            return Err(SetupError::SubjectInside { inside_mm: -distance.value });
        }
        let absurd =
            |figure: &Figure| figures.get(*figure).is_some_and(|e| !(e.value.is_finite() && e.plus_minus.is_finite()));
        if let Some(figure) = Figure::ALL.into_iter().find(absurd) {
            return Err(SetupError::Beyond(figure.label()));
        }
        let warnings = self.warnings(&figures);
        Ok(Report { figures, limited_by: self.roles.lens.id().into(), assumed: self.assumed.clone(), warnings })
    }

    /// At life size the distance of the closest mark is at its least, and its change with the magnification nothing: just
    /// there a distance tells no magnification. The line is drawn where the half-width exceeds the figure itself.
    fn check_closest_mark(&self) -> Result<(), SetupError> {
        let lens = &self.spec.lens;
        let (CloseRange::Distance(distance), FocusSpec::Closest) = (lens.close_range, &self.spec.focus) else {
            return Ok(());
        };
        let found = self.of_lens(|lens| lens.closest_magnification().ok().flatten());
        if found.is_some_and(|m| m.plus_minus <= m.value) {
            return Ok(());
        }
        let numbers = lens.map(&mut |input| input.value);
        let least_mm = 4.0 * numbers.focal_length + numbers.separation();
        Err(SetupError::ClosestMarkUnclear {
            id: self.roles.lens.id().into(),
            close_focus_mm: distance.value,
            least_mm,
        })
    }

    fn estimates(&self) -> Result<Figures<Estimate>, SetupError> {
        let mut inputs: Vec<Input> = Vec::new();
        self.spec.map(&mut |input| inputs.push(*input));
        let results = propagate(&inputs, |numbers| {
            let mut next = numbers.iter();
            // The map visits quantities in one fixed order, the same in which `inputs` was filled.
            let spec = self.spec.map(&mut |input| next.next().copied().unwrap_or(Dual::chosen(input.value)));
            let figures = spec.figures(self.coc_mm)?;
            Ok(Figure::ALL.iter().map(|figure| figures.get(*figure)).collect())
        });
        let results = results.map_err(|error| self.blame(error))?;
        let mut figures = Figures::none();
        for (figure, result) in Figure::ALL.into_iter().zip(results) {
            figures.put(figure, result);
        }
        Ok(figures)
    }

    fn warnings(&self, figures: &Figures<Estimate>) -> Vec<Warning> {
        let lens = || self.roles.lens.id().to_string();
        let mut warnings = Vec::new();
        if let Some(off_mm) = self.close_focus_off_mm {
            warnings.push(Warning::MarksDisagree { lens: lens(), off_mm });
        }
        if let Separation::FromMarks(_) = self.spec.lens.separation {
            let Estimate { value, plus_minus } = self.separation();
            warnings.push(Warning::SeparationFromMarks { lens: lens(), value, plus_minus });
        }
        if matches!((self.spec.lens.close_range, &self.spec.focus), (CloseRange::Unknown, FocusSpec::Travel(_))) {
            warnings.push(Warning::TravelUnchecked(lens()));
        }
        if let Some(distance) = figures.get(Figure::WorkingDistance)
            && distance.value < distance.plus_minus.min(WITHIN_REACH_MM)
        {
            warnings.push(Warning::MayTouch(distance.value));
        }
        if let Some(airy) = figures.get(Figure::AiryDiameter)
            && airy.value > 1000.0 * self.coc_mm
        {
            warnings.push(Warning::Diffraction { airy_um: airy.value, coc_um: 1000.0 * self.coc_mm });
        }
        if let Some(far) = figures.get(Figure::DepthFar)
            && far.plus_minus > far.value
        {
            warnings.push(Warning::FarLimitSteep);
        }
        self.mechanical_warnings(&mut warnings);
        warnings
    }

    /// What the gear itself may refuse to do.
    fn mechanical_warnings(&self, warnings: &mut Vec<Warning>) {
        let part = self.roles.lens;
        let lens = || part.id().to_string();
        let reversed = matches!(self.spec.mounting, Mounting::Reversed(_));
        let diagonal_mm = self.spec.frame[0].value.hypot(self.spec.frame[1].value);
        let grown = 1.0 + self.numbers().extension(0.0) / self.spec.lens.focal_length.value;
        if let Some(circle_mm) = part.number("image_circle_mm")
            && !reversed
            && circle_mm * grown < diagonal_mm
        {
            warnings.push(Warning::SmallCircle { lens: lens(), circle_mm, diagonal_mm });
        }
        if reversed && !part.numbers("shutter_s").is_empty() {
            warnings.push(Warning::ReversedShutter(lens()));
        }
        if part.words("iris") == Some("coupled") && (reversed || !self.roles.spacers.is_empty()) {
            warnings.push(Warning::CoupledIris(lens()));
        }
    }

    /// The lens's principal separation with its uncertainty, mm.
    fn separation(&self) -> Estimate {
        self.of_lens(|lens| Some(lens.separation())).unwrap_or(Estimate::exact(0.0))
    }

    /// What follows from the lens alone, with its uncertainty.
    fn of_lens(&self, figure: impl Fn(&LensSpec<Dual>) -> Option<Dual>) -> Option<Estimate> {
        let mut inputs = Vec::new();
        self.spec.lens.map(&mut |input| inputs.push(*input));
        let compute = |numbers: &[Dual]| -> Result<_, std::convert::Infallible> {
            let mut next = numbers.iter();
            let lens = self.spec.lens.map(&mut |input| next.next().copied().unwrap_or(Dual::chosen(input.value)));
            Ok(vec![figure(&lens)])
        };
        let Ok(results) = propagate(&inputs, compute);
        results[0]
    }
}
