//! From parts as a person names them to one canonical [`Spec`].

use crate::fit::{Choice, Roles, roles};
use crate::parse::shown;
use crate::part::{Kit, Part};
use crate::schema::Kind;
use crate::setup_error::SetupError;
use crate::spec::{CloseRange, CloseUp, FocusSpec, LensSpec, Mounting, Separation, Spec, SpecError};
use optics::{Input, circle_of_confusion_mm};

/// Where a person focuses a lens.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Focus {
    /// At its infinity mark.
    #[default]
    Infinity,
    /// At its closest mark.
    Closest,
    /// This far forward of its infinity mark, mm.
    Travel(f64),
}

/// Reading a travel off a helical, mm (95 %): half a millimetre of turn is seen, a tenth is not.
const TRAVEL_PLUS_MINUS_MM: f64 = 0.3;

impl std::str::FromStr for Focus {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match (text, text.strip_prefix("travel=").map(str::parse::<f64>)) {
            ("infinity", _) => Ok(Self::Infinity),
            ("closest", _) => Ok(Self::Closest),
            (_, Some(Ok(travel))) if travel.is_finite() && travel >= 0.0 => Ok(Self::Travel(travel)),
            _ => Err(format!("\"{text}\" is no focus; give infinity, closest or travel=MM with MM 0 or more")),
        }
    }
}

impl std::fmt::Display for Focus {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Infinity => write!(f, "infinity"),
            Self::Closest => write!(f, "closest"),
            Self::Travel(travel) => write!(f, "travel={travel}"),
        }
    }
}

/// A set-up as a person asks for it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SetupRequest {
    /// Ids from the body outwards; a bellows as "id=draw".
    pub parts: Vec<String>,
    /// Where the lens is focused.
    pub focus: Focus,
    /// The engraved f-number; the lens's widest when `None`.
    pub f_number: Option<f64>,
    /// The largest disc on film that counts as sharp, mm; the frame's diagonal / 1500 when `None`.
    pub coc_mm: Option<f64>,
}

/// A set-up whose parts join and whose settings exist.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup<'a> {
    pub(crate) choices: Vec<Choice<'a>>,
    pub(crate) roles: Roles<'a>,
    pub(crate) spec: Spec<Input>,
    pub(crate) coc_mm: f64,
    pub(crate) assumed: Vec<String>,
    /// By how much a stated close-focus mark that was left out differs from what the other marks imply, mm.
    pub(crate) close_focus_off_mm: Option<f64>,
}

impl<'a> Setup<'a> {
    /// The parts and settings of `request`, checked and resolved.
    pub fn resolve(kit: &'a Kit, request: &SetupRequest) -> Result<Self, SetupError> {
        let choices = request.parts.iter().map(|word| choose(kit, word)).collect::<Result<Vec<_>, _>>()?;
        Self::of(choices, request)
    }

    /// The same from parts already found in a kit.
    pub(crate) fn of(choices: Vec<Choice<'a>>, request: &SetupRequest) -> Result<Self, SetupError> {
        check_choices(&choices)?;
        let roles = roles(&choices)?;
        roles.check_joins()?;
        let mut assumed = Vec::new();
        let lens = lens_spec(roles.lens, &mut assumed)?;
        let spec = spec(&roles, lens, request, &mut assumed)?;
        let frame = spec.frame.map(|side| side.value);
        let coc_mm = request.coc_mm.unwrap_or_else(|| circle_of_confusion_mm(frame));
        if !(coc_mm.is_finite() && coc_mm > 0.0) {
            let (what, rule) = ("the circle of confusion", "above 0 mm");
            return Err(SetupError::Setting { what, rule, found: coc_mm });
        }
        let setup =
            Self { close_focus_off_mm: close_focus_off(roles.lens, &spec), choices, roles, spec, coc_mm, assumed };
        setup.check_travel(request.focus)?;
        Ok(setup)
    }

    /// The set-up with nothing implicit.
    pub fn spec(&self) -> &Spec<Input> {
        &self.spec
    }

    /// The set-up's plain numbers.
    pub fn numbers(&self) -> Spec<f64> {
        self.spec.map(&mut |input| input.value)
    }

    /// The parts, from the body outwards.
    pub fn choices(&self) -> &[Choice<'a>] {
        &self.choices
    }

    /// The body.
    pub fn body(&self) -> &'a Part {
        self.roles.body
    }

    /// The lens.
    pub fn lens(&self) -> &'a Part {
        self.roles.lens
    }

    /// The largest disc on film that counts as sharp, mm.
    pub fn coc_mm(&self) -> f64 {
        self.coc_mm
    }

    /// The shutter speeds, s: the lens's own where it has any, else the body's. Empty when neither states any.
    pub fn shutter_s(&self) -> Vec<f64> {
        let own = self.roles.lens.numbers("shutter_s");
        if own.is_empty() { self.roles.body.numbers("shutter_s") } else { own }
    }

    /// Whether the shutter in use has B.
    pub fn has_bulb(&self) -> bool {
        let in_lens = !self.roles.lens.numbers("shutter_s").is_empty();
        if in_lens { self.roles.lens.flag("bulb") } else { self.roles.body.flag("bulb") }
    }

    /// Errors of the model in the terms of this set-up.
    pub(crate) fn blame(&self, error: SpecError) -> SetupError {
        match error {
            SpecError::CloseRange(source) => SetupError::CloseRange { id: self.roles.lens.id().into(), source },
            SpecError::Focus(error) => self.missing_extension().unwrap_or(SetupError::Focus(error)),
        }
    }

    /// The remedy depends on which side of infinity the film lies. A picture that is upright (a negative magnification in
    /// the sense of an inverted one) means that the lens sits too near the film; the magnification is a straight line in
    /// the extension, so two points of it tell how much is missing.
    fn missing_extension(&self) -> Option<SetupError> {
        let numbers = self.numbers();
        let travel = numbers.travel().ok()?;
        let mut longer = numbers.clone();
        longer.spacers.push(1.0);
        let inverted = |spec: &Spec<f64>| Some(-spec.train(travel).matrix()?.a);
        let (here, a_millimetre_on) = (inverted(&numbers)?, inverted(&longer)?);
        let missing_mm = -here / (a_millimetre_on - here);
        // A reversed lens is not held by its mount: its register places nothing.
        let held = numbers.lens.register.filter(|_| matches!(numbers.mounting, Mounting::Normal));
        let register = held.map(|lens| [lens, numbers.register]).filter(|[lens, body]| lens > body);
        (here < 0.0 && missing_mm > 0.0).then_some(SetupError::TooNearFilm { missing_mm, register })
    }

    fn check_travel(&self, focus: Focus) -> Result<(), SetupError> {
        let id = || self.roles.lens.id().to_string();
        let numbers = self.numbers();
        let most = numbers.lens.largest_travel().map_err(|error| self.blame(error.into()))?;
        match (focus, most) {
            (Focus::Closest, None) => Err(SetupError::NoCloseRange(id())),
            (Focus::Travel(found), _) if !(found.is_finite() && found >= 0.0) => {
                Err(SetupError::Setting { what: "the travel", rule: "0 mm or more", found })
            }
            // Marks are rounded: a tenth more than they say is believed.
            (Focus::Travel(found), Some(most)) if found > 1.1 * most => {
                Err(SetupError::Travel { id: id(), found, most })
            }
            _ => Ok(()),
        }
    }
}

/// "id" or "id=draw".
fn choose<'a>(kit: &'a Kit, word: &str) -> Result<Choice<'a>, SetupError> {
    let (id, draw) = word.split_once('=').map_or((word, None), |(id, draw)| (id, Some(draw.trim())));
    let id = id.trim();
    let part = kit
        .part(id)
        .ok_or_else(|| SetupError::NoSuchPart { id: shown(id), closest: kit.closest_id(id).map(Into::into) })?;
    let draw_mm = draw.filter(|text| !text.is_empty()).map(|text| draw_mm(part, text)).transpose()?;
    // "bellows=" asks for a draw and gives none: the same as no draw at all, and on another part no less wrong.
    Ok(Choice { part, draw_mm: draw_mm.or(draw.map(|_| f64::NAN)) })
}

fn draw_mm(part: &Part, text: &str) -> Result<f64, SetupError> {
    let number = |text: &str| text.parse::<f64>().ok().filter(|draw| !draw.is_nan());
    match number(text) {
        Some(draw) => Ok(draw),
        None if part.kind() != Kind::Bellows => Err(SetupError::NoDraw(part.id().into())),
        None => {
            let meant = number(text.trim_end_matches(|c: char| c.is_alphabetic()).trim());
            let meant = meant.or_else(|| number(&text.replace(',', "."))).filter(|meant| meant.is_finite());
            let example = meant.or(part.numbers("draw_mm").first().copied()).unwrap_or_default();
            Err(SetupError::DrawUnread { id: part.id().into(), found: shown(text), example })
        }
    }
}

fn check_choices(choices: &[Choice<'_>]) -> Result<(), SetupError> {
    for (index, choice) in choices.iter().enumerate() {
        let id = || choice.part.id().to_string();
        if choices[..index].iter().any(|earlier| earlier.part.id() == choice.part.id()) {
            return Err(SetupError::Twice(id()));
        }
        if !choice.part.kind().has_optics() {
            return Err(SetupError::NoOptics { id: id(), kind: choice.part.kind() });
        }
        if choice.part.words("focusing") == Some("internal") {
            return Err(SetupError::InternalFocusing(id()));
        }
        check_draw(choice)?;
    }
    Ok(())
}

fn check_draw(choice: &Choice<'_>) -> Result<(), SetupError> {
    let id = || choice.part.id().to_string();
    match (choice.part.kind(), &choice.part.numbers("draw_mm")[..], choice.draw_mm) {
        (Kind::Bellows, [shortest, longest], draw) => match draw {
            Some(draw) if (*shortest..=*longest).contains(&draw) => Ok(()),
            found => {
                // What could not be read as a number is no draw at all.
                let found = found.filter(|draw| !draw.is_nan());
                Err(SetupError::Draw { id: id(), found, shortest: *shortest, longest: *longest })
            }
        },
        (_, _, Some(_)) => Err(SetupError::NoDraw(id())),
        _ => Ok(()),
    }
}

/// Missing numbers never reach this: the registry's required fields were checked when the part was made.
fn required(part: &Part, field: &str) -> Input {
    part.stated(field).unwrap_or(Input { value: f64::NAN, plus_minus: 0.0 })
}

fn lens_spec(lens: &Part, assumed: &mut Vec<String>) -> Result<LensSpec<Input>, SetupError> {
    let marks = (lens.stated("close_focus_mm"), lens.stated("max_magnification"));
    let stated_separation = lens.stated("principal_separation_mm");
    let separation = match (stated_separation, marks) {
        (Some(stated), _) => Separation::Known(stated),
        (None, (Some(distance), Some(_))) => Separation::FromMarks(distance),
        (None, _) => Separation::Known(assume(lens, "principal_separation_mm", assumed)),
    };
    let close_range = match marks {
        (_, Some(magnification)) => CloseRange::Magnification(magnification),
        (Some(distance), None) => CloseRange::Distance(distance),
        (None, None) => CloseRange::Unknown,
    };
    // Defaults that are words or another part's figure are still defaults that were used.
    for field in ["register_mm", "focusing"] {
        if lens.value(field).is_none() {
            assumed.push(format!("{}.{field}", lens.id()));
        }
    }
    Ok(LensSpec {
        focal_length: required(lens, "focal_length_mm"),
        pupil_ratio: assume(lens, "pupil_ratio", assumed),
        length: required(lens, "length_mm"),
        register: lens.stated("register_mm"),
        separation,
        close_range,
    })
}

/// Whether a lens's closest mark cannot be right: it is nearer than any lens of that focal length can focus.
pub(crate) fn marks_contradict(lens: &Part) -> bool {
    let spec = lens_spec(lens, &mut Vec::new()).map(|spec| spec.map(&mut |input: &Input| input.value));
    spec.is_ok_and(|spec| spec.largest_travel().is_err())
}

fn assume(part: &Part, field: &str, assumed: &mut Vec<String>) -> Input {
    part.stated_or_assumed(field, assumed).unwrap_or(Input { value: f64::NAN, plus_minus: 0.0 })
}

fn spec(
    roles: &Roles<'_>,
    lens: LensSpec<Input>,
    request: &SetupRequest,
    assumed: &mut Vec<String>,
) -> Result<Spec<Input>, SetupError> {
    let frame = roles.body.stated_list("frame_mm");
    let mounting = match roles.reversing_ring {
        None => Mounting::Normal,
        Some(ring) => Mounting::Reversed(assume(ring, "thickness_mm", assumed)),
    };
    let close_ups = roles
        .close_ups
        .iter()
        .map(|close_up| CloseUp { power: required(close_up, "power_dpt"), gap: assume(close_up, "gap_mm", assumed) });
    let register = required(roles.body, "register_mm");
    Ok(Spec {
        frame: [frame[0], frame[1]],
        register,
        spacers: roles.spacers.iter().map(spacer).collect(),
        mounting,
        lens: LensSpec { register: lens.register.map(|own| adjusted(own, register)), ..lens },
        close_ups: close_ups.collect(),
        f_number: f_number(roles.lens, request.f_number)?,
        focus: match request.focus {
            Focus::Infinity => FocusSpec::Infinity,
            Focus::Closest => FocusSpec::Closest,
            Focus::Travel(value) => FocusSpec::Travel(Input { value, plus_minus: TRAVEL_PLUS_MINUS_MM }),
        },
    })
}

/// The register that a lens was built for, where a difference from the body's within the uncertainty of the two is none:
/// they then meet at infinity, as every lens and body of one mount are adjusted to do. Otherwise 80.05 on 80 would be
/// refused at infinity for the sake of a twentieth of a millimetre that nobody measured. The doubt stays.
fn adjusted(own: Input, body: Input) -> Input {
    let differs = (own.value - body.value).abs() > own.plus_minus.hypot(body.plus_minus);
    if differs { own } else { Input { value: body.value, ..own } }
}

/// A tube's length, or a bellows's draw with the uncertainty of its scale.
fn spacer(choice: &Choice<'_>) -> Input {
    match choice.draw_mm {
        None => required(choice.part, "length_mm"),
        Some(value) => {
            let scale = choice.part.stated_list("draw_mm");
            Input { value, plus_minus: scale.first().map_or(0.0, |shortest| shortest.plus_minus) }
        }
    }
}

/// The f-number asked for, or the widest; engraved figures share one uncertainty.
fn f_number(lens: &Part, asked: Option<f64>) -> Result<Input, SetupError> {
    let widest = required(lens, "max_aperture");
    let Some(found) = asked else { return Ok(widest) };
    if !(found.is_finite() && found > 0.0) {
        return Err(SetupError::Setting { what: "the f-number", rule: "above 0", found });
    }
    let smallest = lens.number("min_aperture");
    // Engraved stops are rounded (5.6 for 5.657): a hundredth beside the limit is the limit.
    if found < widest.value * 0.99 || smallest.is_some_and(|smallest| found > smallest * 1.01) {
        return Err(SetupError::FNumber { id: lens.id().into(), found, widest: widest.value, smallest });
    }
    Ok(Input { value: found, plus_minus: widest.plus_minus / widest.value * found })
}

/// Where separation, closest mark and largest magnification are all stated and disagree beyond their uncertainty: how
/// far the stated close focus is from the one that the other two imply, mm.
fn close_focus_off(lens: &Part, spec: &Spec<Input>) -> Option<f64> {
    let stated = lens.stated("close_focus_mm")?;
    let (Separation::Known(t), CloseRange::Magnification(m)) = (spec.lens.separation, spec.lens.close_range) else {
        return None;
    };
    let compute = |x: &[optics::Dual]| -> Result<_, std::convert::Infallible> {
        Ok(vec![Some(optics::separation_from_marks(x[0], x[1], x[2]) - x[3])])
    };
    let Ok(off) = optics::propagate(&[stated, spec.lens.focal_length, m, t], compute);
    let off = off[0]?;
    (off.value.abs() > off.plus_minus).then_some(off.value)
}
