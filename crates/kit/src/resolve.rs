//! From parts as a person names them to one canonical [`Spec`].

use crate::fit::{Choice, End, FREE, Facing, Hold, Stack, StackError, stack};
use crate::parse::shown;
use crate::part::{Kit, Notes, Part};
use crate::schema::Kind;
use crate::setup_error::SetupError;
use crate::spec::{
    CloseRange, CloseUp, ConverterSpec, FocusSpec, Focusing, Gap, Layout, LensLink, LensSpec, Link, Separation, Spec,
    SpecError,
};
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
    /// At this figure on its own distance scale, mm.
    Distance(f64),
}

/// Reading a travel off a helical, mm (95 %): half a millimetre of turn is seen, a tenth is not.
const TRAVEL_PLUS_MINUS_MM: f64 = 0.3;

/// A distance scale is set and read to about 2 % (95 %), as its closest mark is.
const SCALE_SHARE: f64 = 0.02;

/// A free distance is held by hand or set on a stand with a rule, mm (95 %; common practice, no source).
const FREE_PLUS_MINUS_MM: f64 = 1.0;

/// Nobody holds a lens farther away than this, mm.
const LONGEST_FREE_MM: f64 = 2000.0;

impl std::str::FromStr for Focus {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let number =
            |word: &str| text.strip_prefix(word).map(|rest| rest.parse::<f64>().ok().filter(|n| n.is_finite()));
        match (text, number("travel="), number("distance=")) {
            ("infinity", ..) => Ok(Self::Infinity),
            ("closest", ..) => Ok(Self::Closest),
            (_, Some(Some(travel)), _) if travel >= 0.0 => Ok(Self::Travel(travel)),
            (_, _, Some(Some(distance))) if distance > 0.0 => Ok(Self::Distance(distance)),
            _ => Err(format!(
                "\"{text}\" is no focus; give infinity, closest, travel=MM with MM 0 or more, or distance=MM as on the lens's scale"
            )),
        }
    }
}

impl std::fmt::Display for Focus {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Infinity => write!(f, "infinity"),
            Self::Closest => write!(f, "closest"),
            Self::Travel(travel) => write!(f, "travel={travel}"),
            Self::Distance(distance) => write!(f, "distance={distance}"),
        }
    }
}

/// A set-up as a person asks for it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SetupRequest {
    /// Ids from the body outwards; a bellows as "id=draw", a lens that is held by hand after "free=MM", and then turned
    /// round as "id=reversed".
    pub parts: Vec<String>,
    /// Where the lens nearest the body is focused.
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
    pub(crate) stack: Stack<'a>,
    pub(crate) spec: Spec<Input>,
    pub(crate) coc_mm: f64,
    pub(crate) notes: Notes,
    /// By how much a stated close-focus mark that was left out differs from what the other marks imply, mm.
    pub(crate) close_focus_off_mm: Option<f64>,
    /// The lens tables of the kit that it was resolved from.
    pub(crate) lens_tables: Vec<&'a Part>,
}

impl<'a> Setup<'a> {
    /// The parts and settings of `request`, checked and resolved.
    pub fn resolve(kit: &'a Kit, request: &SetupRequest) -> Result<Self, SetupError> {
        let choices = request.parts.iter().map(|word| choose(kit, word)).collect::<Result<Vec<_>, _>>()?;
        let lens_tables = kit.of_kind(Kind::LensTable).collect();
        Ok(Self { lens_tables, ..Self::of(choices, request)? })
    }

    /// The same from parts already found in a kit.
    pub(crate) fn of(choices: Vec<Choice<'a>>, request: &SetupRequest) -> Result<Self, SetupError> {
        check_choices(&choices)?;
        let start = End::Mount(choices.first().and_then(|c| c.part()?.words("mount")).unwrap_or_default());
        Self::from_end(choices, start, request)
    }

    /// The same for a body with a head that need not have its mount: what stands between them is left out.
    pub(crate) fn unjoined(choices: Vec<Choice<'a>>, request: &SetupRequest) -> Result<Self, SetupError> {
        let start = End::Mount(choices.get(1).and_then(|c| c.part()?.words("mount")).unwrap_or_default());
        Self::from_end(choices, start, request)
    }

    fn from_end(choices: Vec<Choice<'a>>, start: End<'a>, request: &SetupRequest) -> Result<Self, SetupError> {
        let stack = stack(&choices, start).map_err(|error| match error {
            StackError::Order(order) => SetupError::Order(order),
            StackError::Misfit(misfit) => SetupError::Misfit(misfit),
        })?;
        let mut notes = Notes::default();
        let spec = spec(&choices, &stack, request, &mut notes)?;
        let frame = spec.frame.map(|side| side.value);
        let coc_mm = request.coc_mm.unwrap_or_else(|| circle_of_confusion_mm(frame));
        if !(coc_mm.is_finite() && coc_mm > 0.0) {
            let (what, rule) = ("the circle of confusion", "above 0 mm");
            return Err(SetupError::Setting { what, rule, found: coc_mm });
        }
        check_confusion(coc_mm, frame)?;
        let (_, lens, _) = stack.first_lens();
        let setup = Self {
            close_focus_off_mm: close_focus_off(lens, &spec),
            choices,
            stack,
            spec,
            coc_mm,
            notes,
            lens_tables: Vec::new(),
        };
        setup.check_focus(request.focus)?;
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

    /// Everything in its place, in plain numbers.
    pub fn layout(&self) -> Result<Layout<f64>, SetupError> {
        self.numbers().layout().map_err(|error| self.blame(error))
    }

    /// The parts, from the body outwards.
    pub fn choices(&self) -> &[Choice<'a>] {
        &self.choices
    }

    /// The body.
    pub fn body(&self) -> &'a Part {
        self.stack.body
    }

    /// The lens nearest the body, which carries focus and f-number.
    pub fn lens(&self) -> &'a Part {
        self.stack.first_lens().1
    }

    /// How that lens is held.
    pub fn hold(&self) -> Hold {
        self.stack.first_lens().2
    }

    /// Every lens from the body outwards: its place among the choices, itself, how it is held.
    pub fn lenses(&self) -> &[(usize, &'a Part, Hold)] {
        &self.stack.lenses
    }

    /// The lens tables of the kit, in its order.
    pub fn lens_tables(&self) -> &[&'a Part] {
        &self.lens_tables
    }

    /// The largest disc on film that counts as sharp, mm.
    pub fn coc_mm(&self) -> f64 {
        self.coc_mm
    }

    /// The lens nearest the body, with its uncertainties.
    pub(crate) fn lens_link(&self) -> LensLink<Input> {
        match self.spec.first_lens() {
            Some((_, link)) => *link,
            // A stack without a lens never becomes a set-up.
            None => unreachable!("a set-up holds a lens"),
        }
    }

    /// How far the focusing of the lens nearest the body goes, in plain numbers, mm; `None` where nothing tells it.
    pub fn largest_travel(&self) -> Option<f64> {
        self.lens_link().lens.map(&mut |input| input.value).largest_travel().ok().flatten()
    }

    /// Errors of the model in the terms of this set-up.
    pub(crate) fn blame(&self, error: SpecError) -> SetupError {
        let id = |link: usize| self.choices[link + 1].id().to_owned();
        match error {
            SpecError::CloseRange { link, source } => SetupError::CloseRange { id: id(link), source },
            SpecError::Converter { link, source } => SetupError::Converter { id: id(link), source },
            SpecError::Focus(error) => self.missing_extension().unwrap_or(SetupError::Focus(error)),
        }
    }

    /// The remedy depends on which side of infinity the film lies. A picture that is upright (a negative magnification
    /// in the sense of an inverted one) means that the lens sits too near the film.
    pub(crate) fn missing_extension(&self) -> Option<SetupError> {
        let numbers = self.numbers();
        let missing_mm = numbers.short_of_infinity_mm()?;
        let (_, link) = numbers.first_lens()?;
        // A reversed lens is not held by its mount: its register places nothing.
        let held = link.lens.register.filter(|_| link.facing == Facing::Normal);
        let register = held.map(|lens| [lens, numbers.register]).filter(|[lens, body]| lens > body);
        Some(SetupError::TooNearFilm { missing_mm, register })
    }

    fn check_focus(&self, focus: Focus) -> Result<(), SetupError> {
        let id = || self.lens().id().to_string();
        let lens = self.lens_link().lens.map(&mut |input| input.value);
        let blame = |source| SetupError::CloseRange { id: id(), source };
        let most = lens.largest_travel().map_err(blame)?;
        let knows_inside = matches!(lens.close_range, CloseRange::Both { .. });
        match (lens.focusing, focus, most) {
            (Focusing::Internal, Focus::Travel(_), _) => Err(SetupError::NoTravel(id())),
            (Focusing::Internal, Focus::Closest | Focus::Distance(_), _) if !knows_inside => {
                Err(SetupError::InsideUnknown(id()))
            }
            (Focusing::Internal, ..) if !makes_sense_inside(&lens) => Err(SetupError::InsideContradicts(id())),
            (Focusing::Internal, Focus::Distance(found), _) => match lens.close_range {
                // A part in 10⁹ is rounding.
                CloseRange::Both { magnification, .. } => {
                    let least = lens.inside_distance_at(lens.share_told() * magnification);
                    let too_near = SetupError::ScaleTooNear { id: id(), found, least };
                    if found < least * (1.0 - 1e-9) { Err(too_near) } else { Ok(()) }
                }
                _ => Ok(()),
            },
            (Focusing::Internal, ..) => Ok(()),
            (_, Focus::Closest, None) => Err(SetupError::NoCloseRange(id())),
            (_, Focus::Travel(found), _) if !(found.is_finite() && found >= 0.0) => {
                Err(SetupError::Setting { what: "the travel", rule: "0 mm or more", found })
            }
            // Marks are rounded: a tenth more than they say is believed.
            (_, Focus::Travel(found), Some(most)) if found > 1.1 * most => {
                Err(SetupError::Travel { id: id(), found, most })
            }
            (_, Focus::Distance(found), most) => {
                let separation = lens.separation();
                let m = optics::magnification_at_distance(found, lens.focal_length, separation)
                    .map_err(|error| SetupError::ScaleTooNear { id: id(), found, least: error.least_mm })?;
                match most {
                    Some(most) if m * lens.focal_length > 1.1 * most => {
                        let m = most / lens.focal_length;
                        let least = lens.focal_length * (2.0 + m + 1.0 / m) + separation;
                        Err(SetupError::ScaleTooNear { id: id(), found, least })
                    }
                    _ => Ok(()),
                }
            }
            _ => Ok(()),
        }
    }
}

/// Whether the marks of an internally focusing lens make a lens: a focal length that falls below a third or rises to
/// three times its own is a wrong mark, and so is a closest mark beyond which the lens would focus nearer still.
fn makes_sense_inside(lens: &LensSpec<f64>) -> bool {
    let (Some(closest), CloseRange::Both { magnification: m, .. }) = (lens.closest_focal_length(), lens.close_range)
    else {
        return true;
    };
    // Beyond life size a scale may run back again.
    let nearing = m >= 1.0 || lens.share_told() >= 1.0;
    closest > lens.focal_length / 3.0 && closest < lens.focal_length * 3.0 && nearing
}

/// "id", "id=draw", "id=reversed" or "free=MM".
fn choose<'a>(kit: &'a Kit, word: &str) -> Result<Choice<'a>, SetupError> {
    let (id, value) = word.split_once('=').map_or((word, None), |(id, value)| (id, Some(value.trim())));
    let id = id.trim();
    if id.is_empty() {
        return Err(SetupError::Nameless);
    }
    let Some(part) = kit.part(id) else {
        return match (id, value) {
            (FREE, Some(text)) => free(text),
            _ => Err(SetupError::NoSuchPart { id: shown(id), closest: kit.closest_id(id).map(Into::into) }),
        };
    };
    if part.kind() == Kind::Lens && value == Some("reversed") {
        return Ok(Choice::Part { part, draw_mm: None, turned: true });
    }
    let draw_mm = value.filter(|text| !text.is_empty()).map(|text| draw_mm(part, text)).transpose()?;
    // "bellows=" asks for a draw and gives none: the same as no draw at all, and on another part no less wrong.
    Ok(Choice::Part { part, draw_mm: draw_mm.or(value.map(|_| f64::NAN)), turned: false })
}

/// Discs of a fiftieth of the frame are no longer sharp to anybody, and a hundred-thousandth is no disc (common practice, no
/// source): most likely micrometres were given.
fn check_confusion(found: f64, frame: [f64; 2]) -> Result<(), SetupError> {
    let diagonal_mm = frame[0].hypot(frame[1]);
    let (least, most) = (diagonal_mm / 100_000.0, diagonal_mm / 50.0);
    if (least..=most).contains(&found) {
        return Ok(());
    }
    let meant = Some(found / 1000.0).filter(|mm| (least..=most).contains(mm));
    Err(SetupError::Confusion { found, diagonal_mm, usual: circle_of_confusion_mm(frame), meant })
}

fn free<'a>(text: &str) -> Result<Choice<'a>, SetupError> {
    match text.parse::<f64>() {
        Ok(mm) if (0.0..=LONGEST_FREE_MM).contains(&mm) => Ok(Choice::Free(mm)),
        _ => Err(SetupError::FreeUnread { found: shown(text), most: LONGEST_FREE_MM }),
    }
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
        let Some(part) = choice.part() else { continue };
        if choices[..index].iter().any(|earlier| earlier.part().is_some_and(|p| p.id() == part.id())) {
            return Err(SetupError::Twice(part.id().into()));
        }
        check_draw(choice)?;
    }
    Ok(())
}

fn check_draw(choice: &Choice<'_>) -> Result<(), SetupError> {
    let Choice::Part { part, draw_mm, .. } = choice else { return Ok(()) };
    let id = || part.id().to_string();
    match (part.kind(), &part.numbers("draw_mm")[..], draw_mm) {
        (Kind::Bellows, [shortest, longest], draw) => match draw {
            Some(draw) if (*shortest..=*longest).contains(draw) => Ok(()),
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
fn required(part: &Part, field: &str, notes: &mut Notes) -> Input {
    part.best(field, notes).unwrap_or(Input { value: f64::NAN, plus_minus: 0.0 })
}

fn assume(part: &Part, field: &str, notes: &mut Notes) -> Input {
    part.best_or_assumed(field, notes).unwrap_or(Input { value: f64::NAN, plus_minus: 0.0 })
}

fn lens_spec(lens: &Part, notes: &mut Notes) -> LensSpec<Input> {
    let focusing = if lens.words("focusing") == Some("internal") { Focusing::Internal } else { Focusing::Unit };
    let marks = (lens.stated("close_focus_mm"), lens.stated("max_magnification"));
    let travel = lens.stated("calibrated_travel_mm");
    let known = lens.best("principal_separation_mm", notes);
    let separation = match (known, marks) {
        (Some(known), _) => Separation::Known(known),
        // An internally focusing lens spends its two marks on the focal length at the closest one.
        (None, (Some(distance), Some(_))) if focusing == Focusing::Unit && travel.is_none() => {
            Separation::FromMarks(distance)
        }
        (None, _) => Separation::Known(assume(lens, "principal_separation_mm", notes)),
    };
    if travel.is_some() && focusing == Focusing::Unit {
        notes.calibrated.push(format!("{}.max_magnification", lens.id()));
    }
    let close_range = match (focusing, travel, marks) {
        (Focusing::Unit, Some(travel), _) => CloseRange::Travel(travel),
        (Focusing::Internal, _, (Some(distance), Some(magnification))) => CloseRange::Both { distance, magnification },
        (_, _, (_, Some(magnification))) => CloseRange::Magnification(magnification),
        (_, _, (Some(distance), None)) => CloseRange::Distance(distance),
        (_, _, (None, None)) => CloseRange::Unknown,
    };
    // Defaults that are words or another part's figure are still defaults that were used.
    for field in ["register_mm", "focusing"] {
        if lens.value(field).is_none() {
            notes.assumed.push(format!("{}.{field}", lens.id()));
        }
    }
    LensSpec {
        focal_length: required(lens, "focal_length_mm", notes),
        pupil_ratio: assume(lens, "pupil_ratio", notes),
        length: required(lens, "length_mm", notes),
        register: lens.stated("register_mm"),
        separation,
        close_range,
        focusing,
    }
}

/// Why a lens's marks cannot be right, if they cannot.
pub(crate) fn marks_contradict(lens: &Part) -> Option<&'static str> {
    let spec = lens_spec(lens, &mut Notes::default()).map(&mut |input: &Input| input.value);
    if spec.largest_travel().is_err() {
        return Some("its close_focus_mm is nearer than its focal length allows; check both");
    }
    (spec.focusing == Focusing::Internal && !makes_sense_inside(&spec)).then_some(
        "its close_focus_mm and max_magnification imply a focal length that no lens has; check both and focal_length_mm",
    )
}

fn spec(
    choices: &[Choice<'_>],
    stack: &Stack<'_>,
    request: &SetupRequest,
    notes: &mut Notes,
) -> Result<Spec<Input>, SetupError> {
    let body = stack.body;
    let frame = body.stated_list("frame_mm");
    let register = required(body, "register_mm", notes);
    // The lenses in the order in which their figures are told, the first one first.
    let links = choices[1..].iter().enumerate().map(|(index, choice)| {
        let held_free = choices[index].part().is_none();
        let hold = stack.lenses.iter().find(|(at, ..)| *at == index + 1).map(|(.., hold)| *hold);
        link(choice, hold, register, held_free, notes)
    });
    let links = links.collect::<Result<Vec<_>, _>>()?;
    let (first, lens, _) = stack.first_lens();
    check_scale_of_request(request)?;
    let focus = match request.focus {
        Focus::Infinity => FocusSpec::Infinity,
        Focus::Closest => FocusSpec::Closest,
        Focus::Travel(value) => FocusSpec::Travel(Input { value, plus_minus: TRAVEL_PLUS_MINUS_MM }),
        Focus::Distance(value) => FocusSpec::Distance(Input { value, plus_minus: SCALE_SHARE * value }),
    };
    debug_assert!(matches!(links.get(first - 1), Some(Link::Lens(_))), "the first lens is where the stack says");
    Ok(Spec {
        frame: [frame[0], frame[1]],
        register,
        throat: body.stated("throat_mm"),
        links,
        f_number: f_number(lens, request.f_number)?,
        focus,
    })
}

fn check_scale_of_request(request: &SetupRequest) -> Result<(), SetupError> {
    match request.focus {
        Focus::Distance(found) if !(found.is_finite() && found > 0.0) => {
            Err(SetupError::Setting { what: "the distance on the lens's scale", rule: "above 0 mm", found })
        }
        _ => Ok(()),
    }
}

fn link(
    choice: &Choice<'_>,
    hold: Option<Hold>,
    register: Input,
    held_free: bool,
    notes: &mut Notes,
) -> Result<Link<Input>, SetupError> {
    let Choice::Part { part, draw_mm, .. } = choice else {
        let Choice::Free(value) = *choice else { unreachable!("a choice is a part or a free distance") };
        let length = Input { value, plus_minus: FREE_PLUS_MINUS_MM };
        return Ok(Link::Gap(Gap { length, clear: None, extends: false }));
    };
    let clear = part.stated("clear_mm");
    let gap = |length, extends| Link::Gap(Gap { length, clear, extends });
    Ok(match part.kind() {
        Kind::Tube => gap(required(part, "length_mm", notes), true),
        Kind::Bellows => gap(draw(part, draw_mm.unwrap_or(f64::NAN)), true),
        Kind::Adapter => gap(required(part, "length_mm", notes), false),
        Kind::ReversingRing | Kind::CouplingRing | Kind::StepRing => gap(assume(part, "thickness_mm", notes), false),
        Kind::Teleconverter => Link::Converter(converter_spec(part, register, notes)),
        Kind::Lens => {
            let own = part.stated("register_mm").and_then(|own| unlike(own, register));
            let lens = LensSpec { register: own, ..lens_spec(part, notes) };
            let facing = hold.map_or(Facing::Normal, |hold| hold.facing);
            Link::Lens(LensLink { lens, facing, widest: required(part, "max_aperture", notes) })
        }
        Kind::CloseUpLens => {
            // Held free, its glass is where it is held.
            let gap = (!held_free).then(|| assume(part, "gap_mm", notes));
            Link::CloseUp(CloseUp { power: required(part, "power_dpt", notes), gap, clear })
        }
        // None comes as far as this: the walk along the stack refuses them.
        Kind::Body | Kind::Film | Kind::LensTable => return Err(SetupError::Twice(part.id().into())),
    })
}

/// A converter's plain numbers on a body.
pub(crate) fn converter_numbers(part: &Part, body: &Part) -> ConverterSpec<f64> {
    let mut notes = Notes::default();
    converter_spec(part, required(body, "register_mm", &mut notes), &mut notes).map(&mut |input| input.value)
}

fn converter_spec(part: &Part, body_register: Input, notes: &mut Notes) -> ConverterSpec<Input> {
    if part.value("register_mm").is_none() {
        notes.assumed.push(format!("{}.register_mm", part.id()));
    }
    ConverterSpec {
        factor: required(part, "factor", notes),
        length: required(part, "length_mm", notes),
        register: part.stated("register_mm").and_then(|own| unlike(own, body_register)),
        clear: part.stated("clear_mm"),
    }
}

/// The register that a lens was built for, where it is another than the body's. A difference within the uncertainty of the two is
/// none: they meet at infinity, as every lens and body of one mount are adjusted to do. Otherwise 80.05 on 80
/// would be refused at infinity for the sake of a twentieth of a millimetre that nobody measured, and 80 on 80 would be unsure of
/// infinity by two doubts that the adjustment has taken out.
fn unlike(own: Input, body: Input) -> Option<Input> {
    ((own.value - body.value).abs() > own.plus_minus.hypot(body.plus_minus)).then_some(own)
}

/// A bellows's draw with the uncertainty of its scale.
fn draw(bellows: &Part, value: f64) -> Input {
    let scale = bellows.stated_list("draw_mm");
    Input { value, plus_minus: scale.first().map_or(0.0, |shortest| shortest.plus_minus) }
}

/// The f-number asked for, or the widest; engraved figures share one uncertainty.
fn f_number(lens: &Part, asked: Option<f64>) -> Result<Input, SetupError> {
    let widest = required(lens, "max_aperture", &mut Notes::default());
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
    let (_, link) = spec.first_lens()?;
    let (Separation::Known(t), CloseRange::Magnification(m)) = (link.lens.separation, link.lens.close_range) else {
        return None;
    };
    let compute = |x: &[optics::Dual]| -> Result<_, std::convert::Infallible> {
        Ok(vec![Some(optics::separation_from_marks(x[0], x[1], x[2]) - x[3])])
    };
    let Ok(off) = optics::propagate(&[stated, link.lens.focal_length, m, t], compute);
    let off = off[0]?;
    (off.value.abs() > off.plus_minus).then_some(off.value)
}
