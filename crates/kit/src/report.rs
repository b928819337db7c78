//! Every figure of a set-up with its uncertainty, and what a photographer should know about it.

use crate::fit::Facing;
use crate::resolve::Setup;
use crate::schema::Kind;
use crate::setup_error::SetupError;
use crate::spec::{CloseRange, FocusSpec, Focusing, Layout, LensSpec, Separation};
use crate::working::Obstacle;
use optics::{Checked, Dual, Estimate, Figure, Figures, Input, Simulation, propagate, propagate_checked};

/// What a set-up gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Every figure; one is missing where it is infinite.
    pub figures: Figures<Estimate>,
    /// Figures whose half-width is only an indication, because first order does not hold for them over the doubt there
    /// is: with the share by which curvature changes their interval. [`Setup::drawn`] gives their intervals by
    /// simulation.
    pub steep: Vec<(Figure, f64)>,
    /// The part whose aperture limits the light.
    pub limited_by: String,
    /// Fields whose defaults were used, as "part.field".
    pub assumed: Vec<String>,
    /// Fields whose calibrated figures were used instead of the marked ones, as "part.field".
    pub calibrated: Vec<String>,
    /// Radius on film within which every point gets the whole cone, mm, where an aperture that is known cuts it.
    pub lit_whole_mm: Option<f64>,
    /// Diameter of the lens's image circle on film with this extension, mm, where the kit states one.
    pub image_circle_mm: Option<f64>,
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
    /// A known aperture cuts into the corners.
    #[error("{part} cuts into the corners: from {} mm off the centre on the film darkens{}, and the frame's corner lies at {} mm", round(*.from_mm), .dark_mm.map_or(String::new(), |dark| format!(" and beyond {} mm nothing arrives", round(dark))), round(*.corner_mm))]
    CornersCut {
        /// What cuts.
        part: String,
        /// Where the film begins to darken, mm from its centre.
        from_mm: f64,
        /// Where it is dark, mm from its centre, when that lies within the frame.
        dark_mm: Option<f64>,
        /// Half the frame's diagonal, mm.
        corner_mm: f64,
    },
    /// Something about the gear keeps it from being worked as usual.
    #[error("{0}")]
    Obstacle(Obstacle),
    /// The lens's focal length between its two ends is interpolated.
    #[error(
        "lens \"{0}\" focuses internally: between infinity and the closest mark its focal length is interpolated evenly over the magnification, as its inner workings are not known"
    )]
    Interpolated(String),
    /// A lens on an adapter whose register is taken to be the body's.
    #[error(
        "lens \"{0}\" stands on an adapter and its register is not stated: it is taken to be built for the body's; add register_mm for it, mount seat to film on its own body"
    )]
    RegisterOnAdapter(String),
    /// A converter's figures put its glass behind the film.
    #[error("teleconverter \"{id}\" cannot form an image on this body: by its figures its glass would lie {} mm behind the film; check its register_mm, factor and length_mm", round(*.behind_mm))]
    ConverterBehindFilm {
        /// The converter.
        id: String,
        /// How far behind, mm.
        behind_mm: f64,
    },
    /// The whole train is afocal.
    #[error(
        "the set-up is afocal: its magnification does not change with the distance, and it is focused by moving the whole camera"
    )]
    Afocal,
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
        let checked = self.checked(None)?;
        let mut figures = Figures::none();
        for (figure, checked) in Figure::ALL.into_iter().zip(&checked) {
            figures.put(figure, checked.estimate);
        }
        let steep = Figure::ALL.into_iter().zip(&checked).filter(|(_, checked)| !checked.first_order_holds());
        let steep: Vec<_> = steep.map(|(figure, checked)| (figure, checked.curvature)).collect();
        self.check_closest_mark()?;
        // A nanometre is rounding: what just touches, as the end of a range does, is no subject inside.
        if let Some(distance) = figures.get(Figure::WorkingDistance)
            && distance.value < -1e-6
        {
            let inside = SetupError::SubjectInside { inside_mm: -distance.value };
            // An upright picture needs more length, not less.
            return Err(self.missing_extension().unwrap_or(inside));
        }
        let absurd =
            |figure: &Figure| figures.get(*figure).is_some_and(|e| !(e.value.is_finite() && e.plus_minus.is_finite()));
        if let Some(figure) = Figure::ALL.into_iter().find(absurd) {
            return Err(SetupError::Beyond(figure.label()));
        }
        let layout = self.layout()?;
        let image = layout.train.image().map_err(|error| self.blame(error.into()))?;
        let limited_by = layout.stop_of[image.limiting_stop];
        let mut report = Report {
            figures,
            steep,
            limited_by: self.owner(limited_by).into(),
            assumed: self.notes.assumed.clone(),
            calibrated: self.notes.calibrated.clone(),
            lit_whole_mm: None,
            image_circle_mm: self.image_circle(&layout),
            warnings: Vec::new(),
        };
        let lit = layout.train.lit_circle().filter(|lit| lit.whole.is_finite());
        report.lit_whole_mm = lit.map(|lit| lit.whole);
        report.warnings = self.warnings(&report, &layout, image.power * layout.train.front);
        Ok(report)
    }

    /// At life size the distance of the closest mark is at its least, and its change with the magnification nothing:
    /// just there a distance tells no magnification. The line is drawn where the half-width exceeds the figure itself.
    fn check_closest_mark(&self) -> Result<(), SetupError> {
        let lens = self.lens_link().lens;
        let (CloseRange::Distance(distance), FocusSpec::Closest) = (lens.close_range, &self.spec.focus) else {
            return Ok(());
        };
        let found = self.of_lens(|lens| lens.closest_magnification().ok().flatten());
        if found.is_some_and(|m| m.plus_minus <= m.value) {
            return Ok(());
        }
        let numbers = lens.map(&mut |input| input.value);
        let least_mm = 4.0 * numbers.focal_length + numbers.separation();
        Err(SetupError::ClosestMarkUnclear { id: self.lens().id().into(), close_focus_mm: distance.value, least_mm })
    }

    /// Every figure of [`Figure::ALL`] with its uncertainty, as a simulation has it where first order does not hold.
    /// Slower than [`Setup::report`]: some tens of thousands of set-ups are computed.
    pub fn drawn(&self, simulation: &Simulation) -> Result<Vec<(Figure, Checked)>, SetupError> {
        Ok(Figure::ALL.into_iter().zip(self.checked(Some(simulation))?).collect())
    }

    fn checked(&self, simulation: Option<&Simulation>) -> Result<Vec<Checked>, SetupError> {
        let mut inputs: Vec<Input> = Vec::new();
        self.spec.map(&mut |input| inputs.push(*input));
        // The map visits quantities in one fixed order, the same in which `inputs` was filled.
        let slopes = |numbers: &[Dual]| {
            let mut next = numbers.iter();
            let spec = self.spec.map(&mut |input| next.next().copied().unwrap_or(Dual::chosen(input.value)));
            spec.figures(self.coc_mm).map(|figures| figures.row())
        };
        let plain = |numbers: &[f64]| {
            let mut next = numbers.iter();
            let spec = self.spec.map(&mut |input| next.next().copied().unwrap_or(input.value));
            spec.possible_figures(self.coc_mm).map(|figures| figures.row())
        };
        propagate_checked(&inputs, simulation, slopes, plain).map_err(|error| self.blame(error))
    }

    /// The id of the part that a link is, the body's for none.
    fn owner(&self, link: Option<usize>) -> &str {
        self.choices[link.map_or(0, |link| link + 1)].id()
    }

    /// The image circle that the lens nearest the body throws on the film, from the one it throws at infinity: the cone
    /// of its chief rays through the exit pupil, carried through what stands behind it. `None` where the kit states
    /// none, and for a reversed lens, of which it says nothing.
    fn image_circle(&self, layout: &Layout<f64>) -> Option<f64> {
        let circle = self.lens().number("image_circle_mm")?;
        let numbers = self.numbers();
        let (link, lens) = numbers.first_lens().filter(|(_, lens)| lens.facing == Facing::Normal)?;
        let index = layout.stop_of.iter().position(|owner| *owner == Some(link))?;
        // At infinity the exit pupil lies P·f in front of the film.
        let slope = 0.5 * circle / (lens.lens.pupil_ratio * lens.lens.focal_length);
        Some(2.0 * layout.train.height_on_film(&layout.train.stops[index], slope)).filter(|circle| circle.is_finite())
    }

    fn warnings(&self, report: &Report, layout: &Layout<f64>, power: f64) -> Vec<Warning> {
        let figures = &report.figures;
        let lens = || self.lens().id().to_string();
        let spec = self.lens_link().lens;
        let mut warnings = Vec::new();
        if let Some(off_mm) = self.close_focus_off_mm {
            warnings.push(Warning::MarksDisagree { lens: lens(), off_mm });
        }
        if let Separation::FromMarks(_) = spec.separation {
            let Estimate { value, plus_minus } = self.separation();
            warnings.push(Warning::SeparationFromMarks { lens: lens(), value, plus_minus });
        }
        match (spec.focusing, spec.close_range, &self.spec.focus) {
            (Focusing::Unit, CloseRange::Unknown, FocusSpec::Travel(_) | FocusSpec::Distance(_)) => {
                warnings.push(Warning::TravelUnchecked(lens()));
            }
            (Focusing::Internal, _, FocusSpec::Distance(_)) => warnings.push(Warning::Interpolated(lens())),
            _ => {}
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
        // A power that turns light by less than a thousandth over the length of the set-up.
        if power.abs() < 1e-3 {
            warnings.push(Warning::Afocal);
        }
        for (element, &link) in layout.train.elements.iter().zip(&layout.element_of) {
            if element.front <= 0.0 && self.choices[link + 1].kind() == Some(Kind::Teleconverter) {
                let id = self.owner(Some(link)).into();
                warnings.push(Warning::ConverterBehindFilm { id, behind_mm: -element.front });
            }
        }
        self.mechanical_warnings(report, layout, &mut warnings);
        warnings
    }

    /// What the gear itself may refuse to do.
    fn mechanical_warnings(&self, report: &Report, layout: &Layout<f64>, warnings: &mut Vec<Warning>) {
        let part = self.lens();
        let lens = || part.id().to_string();
        let diagonal_mm = self.spec.frame[0].value.hypot(self.spec.frame[1].value);
        if let (Some(circle_mm), Some(grown)) = (part.number("image_circle_mm"), report.image_circle_mm)
            && grown < diagonal_mm
        {
            warnings.push(Warning::SmallCircle { lens: lens(), circle_mm, diagonal_mm });
        }
        let corner_mm = 0.5 * diagonal_mm;
        if let Some(lit) = layout.train.lit_circle()
            && lit.whole < corner_mm
            && let Some(cut_by) = lit.cut_by
        {
            let owner = layout.stop_of[cut_by];
            let part = match owner {
                None => "the body's mount throat".into(),
                Some(_) => format!("\"{}\"", self.owner(owner)),
            };
            let dark_mm = Some(lit.any).filter(|any| *any < corner_mm);
            warnings.push(Warning::CornersCut { part, from_mm: lit.whole, dark_mm, corner_mm });
        }
        let on_adapter = self.choices.iter().any(|choice| choice.kind() == Some(Kind::Adapter));
        let unstated = self.lenses().iter().filter(|(_, lens, _)| on_adapter && lens.value("register_mm").is_none());
        warnings.extend(unstated.map(|(_, lens, _)| Warning::RegisterOnAdapter(lens.id().into())));
        warnings.extend(self.obstacles().into_iter().map(Warning::Obstacle));
    }

    /// The lens's principal separation with its uncertainty, mm.
    fn separation(&self) -> Estimate {
        self.of_lens(|lens| Some(lens.separation())).unwrap_or(Estimate::exact(0.0))
    }

    /// What follows from the lens alone, with its uncertainty.
    fn of_lens(&self, figure: impl Fn(&LensSpec<Dual>) -> Option<Dual>) -> Option<Estimate> {
        let spec = self.lens_link().lens;
        let mut inputs = Vec::new();
        spec.map(&mut |input| inputs.push(*input));
        let compute = |numbers: &[Dual]| -> Result<_, std::convert::Infallible> {
            let mut next = numbers.iter();
            let lens = spec.map(&mut |input| next.next().copied().unwrap_or(Dual::chosen(input.value)));
            Ok(vec![figure(&lens)])
        };
        let Ok(results) = propagate(&inputs, compute);
        results[0]
    }
}
