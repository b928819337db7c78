//! What a person picked for a set-up: from a link's list of parts, or from the form's fields.

use kit::{Focus, Kind, Kit, Part, SetupRequest};
use maud::{Markup, html};

use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::form::Filled;

/// Engraved f-numbers in half stops (the series of powers of the fourth root of two as it is engraved; common practice).
pub const STOPS: [f64; 25] = [
    1.0, 1.2, 1.4, 1.7, 2.0, 2.4, 2.8, 3.3, 4.0, 4.8, 5.6, 6.7, 8.0, 9.5, 11.0, 13.0, 16.0, 19.0, 22.0, 27.0, 32.0,
    38.0, 45.0, 54.0, 64.0,
];

/// Parts and settings, as picked.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Picked {
    /// Ids from the body outwards; a bellows with its draw.
    pub parts: Vec<String>,
    /// Where the lens is focused.
    pub focus: Focus,
    /// The engraved f-number; the lens's widest when `None`.
    pub f_number: Option<f64>,
}

impl Picked {
    /// What a query says; fields of the form win over a list of parts. What cannot be read is noted at its field: no figures
    /// are shown for a set-up that was not understood whole.
    pub fn read(query: &mut Filled, kit: &Kit) -> Self {
        let fields = !query.text("body").is_empty() || !query.text("lens").is_empty();
        let parts = if fields { parts_of_fields(query, kit) } else { listed(query.text("parts")) };
        let lens = parts.iter().filter_map(|word| kit.part(word)).find(|part| part.kind() == Kind::Lens);
        Self { f_number: f_number(query, lens), focus: focus(query, lens), parts }
    }

    /// As the engine takes it.
    pub fn request(&self) -> SetupRequest {
        SetupRequest { parts: self.parts.clone(), focus: self.focus, f_number: self.f_number, coc_mm: None }
    }

    /// As a query of a link.
    pub fn query(&self) -> String {
        let mut pairs = form_urlencoded::Serializer::new(String::new());
        pairs.append_pair("parts", &self.parts.join(",")).append_pair("focus", &self.focus.to_string());
        if let Some(f) = self.f_number {
            pairs.append_pair("f", &f.to_string());
        }
        pairs.finish()
    }

    /// The picked parts of one kind.
    pub fn of_kind<'a>(&'a self, kit: &'a Kit, kind: Kind) -> impl Iterator<Item = &'a Part> {
        self.parts.iter().filter_map(|word| kit.part(id_of(word))).filter(move |part| part.kind() == kind)
    }

    /// The draw that was picked for the bellows, mm.
    pub fn draw(&self, kit: &Kit) -> Option<f64> {
        let drawn = |word: &&String| kit.part(id_of(word)).is_some_and(|part| part.kind() == Kind::Bellows);
        self.parts.iter().filter(drawn).find_map(|word| word.split_once('=')?.1.parse().ok())
    }

    /// Whether the converter stands next to the body with something between it and the lens.
    fn converter_at_body(&self, kit: &Kit) -> bool {
        let kinds: Vec<_> = self.parts.iter().filter_map(|word| kit.part(id_of(word))).map(Part::kind).collect();
        let converter = kinds.iter().position(|kind| *kind == Kind::Teleconverter);
        converter.is_some_and(|at| kinds[at..].iter().any(|kind| matches!(kind, Kind::Tube | Kind::Bellows)))
    }
}

fn id_of(word: &str) -> &str {
    word.split_once('=').map_or(word, |(id, _)| id)
}

fn listed(parts: &str) -> Vec<String> {
    parts.split(',').map(|word| word.trim().to_owned()).filter(|word| !word.is_empty()).collect()
}

/// The parts of the form's fields in the order in which they stand. Step rings and adapters are put in where they are needed. A
/// stack that came in another order (a tube behind the converter, a lens held free) keeps it while the same parts are picked.
fn parts_of_fields(query: &mut Filled, kit: &Kit) -> Vec<String> {
    let picked = |names: &[&str]| -> Vec<String> {
        let ids = names.iter().flat_map(|name| query.all(name)).map(str::trim).filter(|id| !id.is_empty());
        ids.map(str::to_owned).collect()
    };
    let (at_body, at_lens) = match query.text("converter_at") {
        "body" => (picked(&["converter"]), Vec::new()),
        _ => (Vec::new(), picked(&["converter"])),
    };
    let ids = [
        picked(&["body"]),
        at_body,
        picked(&["tube", "bellows"]),
        at_lens,
        picked(&["ring", "lens", "front", "coupling", "second"]),
    ]
    .concat();
    let came = listed(query.text("order"));
    let same = |word: &String| ids.iter().any(|id| id == id_of(word)) || is_joint(kit, word);
    let kept =
        !came.is_empty() && came.iter().all(same) && ids.iter().all(|id| came.iter().any(|word| id_of(word) == id));
    let words = if kept { came } else { kit.completed(&ids) };
    words.into_iter().map(|word| with_draw(word, query, kit)).collect()
}

/// What is not picked by itself: rings and adapters that join, and what is held free.
fn is_joint(kit: &Kit, word: &str) -> bool {
    match kit.part(id_of(word)) {
        Some(part) => matches!(part.kind(), Kind::StepRing | Kind::Adapter),
        None => true,
    }
}

/// A bellows with its draw: as picked, or its shortest.
fn with_draw(word: String, query: &mut Filled, kit: &Kit) -> String {
    let id = id_of(&word).to_owned();
    let range = kit.part(&id).filter(|part| part.kind() == Kind::Bellows).map(|part| part.numbers("draw_mm"));
    match range.as_deref() {
        Some(&[shortest, longest]) => {
            let draw = query.number_within("draw", shortest, longest, "mm").unwrap_or(shortest);
            format!("{id}={draw}")
        }
        _ => word,
    }
}

fn focus(query: &mut Filled, lens: Option<&Part>) -> Focus {
    let internal = lens.is_some_and(|lens| lens.words("focusing") == Some("internal"));
    if let Some(travel) = query.number("travel").filter(|_| !internal) {
        return if travel > 0.0 { Focus::Travel(travel) } else { Focus::Infinity };
    }
    if let (Ok(place), Some(closest)) =
        (query.text("scale").parse::<i32>(), lens.filter(|_| internal).and_then(|l| l.number("close_focus_mm")))
    {
        return match place {
            i32::MIN..=0 => Focus::Infinity,
            SCALE_STEPS.. => Focus::Closest,
            place => Focus::Distance(closest * f64::from(SCALE_STEPS) / f64::from(place)),
        };
    }
    let typed = query.text("focus").to_lowercase();
    if typed.is_empty() {
        return Focus::Infinity;
    }
    typed.parse().unwrap_or_else(|why: String| {
        query.wrong("focus", sentence(&why));
        Focus::Infinity
    })
}

fn f_number(query: &mut Filled, lens: Option<&Part>) -> Option<f64> {
    let from_slider = || {
        let index: usize = query.text("stop").parse().ok()?;
        lens_stops(lens?).get(index).copied()
    };
    from_slider().or_else(|| query.number("f"))
}

/// The stops of a lens: its widest, then the engraved series to its smallest (or 32 when that is not stated).
pub fn lens_stops(lens: &Part) -> Vec<f64> {
    let widest = lens.number("max_aperture").unwrap_or(1.0);
    let smallest = lens.number("min_aperture").unwrap_or(32.0);
    let between = STOPS.into_iter().filter(|stop| *stop > widest * 1.03 && *stop <= smallest * 1.01);
    std::iter::once(widest).chain(between).collect()
}

/// Fields to pick the parts with.
pub fn pickers(kit: &Kit, picked: &Picked) -> Markup {
    html! {
        div.fields.parts {
            (choice(kit, picked, ("body", "Body"), Kind::Body, 0, false))
            @for at in 0..places(kit, picked, Kind::Tube, 3) {
                @let label = if at == 0 { "Tube".to_owned() } else { format!("Tube {}", at + 1) };
                (choice(kit, picked, ("tube", &label), Kind::Tube, at, true))
            }
            @for at in 0..places(kit, picked, Kind::Bellows, 1) {
                @let label = if at == 0 { "Bellows".to_owned() } else { format!("Bellows {}", at + 1) };
                (choice(kit, picked, ("bellows", &label), Kind::Bellows, at, true))
            }
            @if has(kit, Kind::Teleconverter) {
                (choice(kit, picked, ("converter", "Converter"), Kind::Teleconverter, 0, true))
                (converter_place(picked.converter_at_body(kit)))
            }
            (choice(kit, picked, ("lens", "Lens"), Kind::Lens, 0, false))
            @if has(kit, Kind::ReversingRing) { (choice(kit, picked, ("ring", "Reversed on"), Kind::ReversingRing, 0, true)) }
            @for at in 0..places(kit, picked, Kind::CloseUpLens, 2) {
                @let label = if at == 0 { "Close-up lens".to_owned() } else { format!("Close-up lens {}", at + 1) };
                (choice(kit, picked, ("front", &label), Kind::CloseUpLens, at, true))
            }
            @if has(kit, Kind::CouplingRing) || picked.of_kind(kit, Kind::Lens).count() > 1 {
                (choice(kit, picked, ("coupling", "Coupling ring"), Kind::CouplingRing, 0, true))
                (choice(kit, picked, ("second", "Second lens, reversed on it"), Kind::Lens, 1, true))
            }
        }
        input type="hidden" name="order" value=(picked.parts.join(","));
    }
}

/// Where the converter stands when there is extension too.
fn converter_place(at_body: bool) -> Markup {
    html! {
        div.field {
            label for="pick-converter-at" { "The converter stands" }
            select id="pick-converter-at" name="converter_at" {
                option value="lens" selected[!at_body] { "at the lens, tubes behind it" }
                option value="body" selected[at_body] { "at the body, tubes before it" }
            }
        }
    }
}

/// The stack as a line of text, for what no field above can say.
pub fn written(picked: &Picked) -> Markup {
    html! {
        details {
            summary { "Write the stack out" }
            form method="get" action="/set-up" {
                div.field {
                    label for="stack" { "Parts by id, from the body outwards" }
                    input #stack type="text" name="parts" value=(picked.parts.join(",")) spellcheck="false" autocapitalize="none";
                    p.hint { "A bellows as id=85. What is held by hand follows free=MM, and a lens held so is turned round as id=reversed." }
                }
                input type="hidden" name="focus" value=(picked.focus);
                @if let Some(f) = picked.f_number { input type="hidden" name="f" value=(f); }
                div.actions { button { "Show this stack" } }
            }
        }
    }
}

fn has(kit: &Kit, kind: Kind) -> bool {
    kit.of_kind(kind).next().is_some()
}

/// How many choices a kind gets: as usual, and never fewer than were picked.
fn places(kit: &Kit, picked: &Picked, kind: Kind, usual: usize) -> usize {
    kit.of_kind(kind).count().min(usual.max(picked.of_kind(kit, kind).count()))
}

/// One choice; the place-th picked part of that kind is chosen. Several choices share one name, so each has its own id.
fn choice(kit: &Kit, picked: &Picked, (name, label): (&str, &str), kind: Kind, place: usize, none: bool) -> Markup {
    let chosen = picked.of_kind(kit, kind).nth(place).map(Part::id).unwrap_or_default();
    let id = format!("pick-{name}-{place}");
    html! {
        div.field {
            label for=(id) { (label) }
            select id=(id) name=(name) {
                @if none || chosen.is_empty() { option value="" selected[chosen.is_empty()] { "none" } }
                @for part in kit.of_kind(kind) {
                    option value=(part.id()) selected[part.id() == chosen] { (part.name()) @if shared(kit, part) { " (" (part.id()) ")" } }
                }
            }
        }
    }
}

/// Whether another part of the kit has the same name.
fn shared(kit: &Kit, part: &Part) -> bool {
    kit.parts().iter().any(|other| other.id() != part.id() && other.name() == part.name())
}

/// Sliders for aperture, travel and draw.
pub fn sliders(kit: &Kit, picked: &Picked, largest_travel: Option<f64>) -> Markup {
    let lens = picked.of_kind(kit, Kind::Lens).next();
    let bellows = picked.of_kind(kit, Kind::Bellows).next();
    html! {
        div.sliders {
            @if let Some(lens) = lens {
                (aperture(lens, picked))
                @if lens.words("focusing") == Some("internal") { (scale(lens, picked)) } @else { (travel(lens, picked, largest_travel)) }
            }
            @if let Some(&[shortest, longest]) = bellows.map(|b| b.numbers("draw_mm")).as_deref() {
                @let value = picked.draw(kit).unwrap_or(shortest);
                (slider(Slider { name: "draw", label: "Bellows draw", min: shortest, max: longest, step: 0.5, value, shown: format!("{} mm", fmt::figure(value, 4)), labels: None }))
            }
        }
    }
}

fn aperture(lens: &Part, picked: &Picked) -> Markup {
    let stops = lens_stops(lens);
    let wanted = picked.f_number.unwrap_or(stops[0]);
    let nearest = |index: &usize| (stops[*index] / wanted).ln().abs();
    let at = (0..stops.len()).min_by(|p, q| nearest(p).total_cmp(&nearest(q))).unwrap_or(0);
    let labels = stops.iter().map(|n| format!("f/{n}")).collect::<Vec<_>>();
    let shown = labels.get(at).cloned().unwrap_or_default();
    let max = stops.len().saturating_sub(1) as f64;
    slider(Slider {
        name: "stop",
        label: "Aperture",
        min: 0.0,
        max,
        step: 1.0,
        value: at as f64,
        shown,
        labels: Some(labels.join(" ")),
    })
}

/// An internally focusing lens has no travel: it is set by its scale. The slider runs evenly over one over the distance, as scales do.
fn scale(lens: &Part, picked: &Picked) -> Markup {
    let Some(closest) = lens.number("close_focus_mm").filter(|_| lens.number("max_magnification").is_some()) else {
        return html! { p.hint { "Only infinity is known of this lens: its closest mark and the magnification there tell the rest." } };
    };
    let words = |place: i32| match place {
        0 => "infinity".to_owned(),
        SCALE_STEPS => "closest".to_owned(),
        place => fmt::figure(closest * f64::from(SCALE_STEPS) / f64::from(place), 3),
    };
    let value = match picked.focus {
        Focus::Infinity | Focus::Travel(_) => 0.0,
        Focus::Closest => f64::from(SCALE_STEPS),
        Focus::Distance(distance) => (f64::from(SCALE_STEPS) * closest / distance).round(),
    };
    let labels: Vec<String> = (0..=SCALE_STEPS).map(words).collect();
    let shown = labels.get(value as usize).cloned().unwrap_or_default();
    slider(Slider {
        name: "scale",
        label: "Distance on its scale, mm",
        min: 0.0,
        max: f64::from(SCALE_STEPS),
        step: 1.0,
        value,
        shown,
        labels: Some(labels.join(" ")),
    })
}

const SCALE_STEPS: i32 = 20;

/// Half the focal length is further than most helicals go; it bounds the slider where the kit states no end.
fn travel(lens: &Part, picked: &Picked, largest: Option<f64>) -> Markup {
    let most = largest.unwrap_or_else(|| lens.number("focal_length_mm").unwrap_or(50.0) / 2.0);
    let most = (most * 10.0).ceil() / 10.0;
    let value = match picked.focus {
        Focus::Infinity => 0.0,
        Focus::Closest => most,
        Focus::Travel(travel) => travel,
        // A distance on the scale has no place on this slider; it stands at the near end until it is moved.
        Focus::Distance(_) => most,
    };
    let shown = format!("{} mm", fmt::figure(value, 3));
    slider(Slider {
        name: "travel",
        label: "Focusing travel, from infinity",
        min: 0.0,
        max: most,
        step: 0.1,
        value,
        shown,
        labels: None,
    })
}

struct Slider<'a> {
    name: &'a str,
    label: &'a str,
    min: f64,
    max: f64,
    step: f64,
    value: f64,
    shown: String,
    /// Words for each step, separated by blanks.
    labels: Option<String>,
}

fn slider(slider: Slider<'_>) -> Markup {
    let id = format!("slide-{}", slider.name);
    html! {
        div.slider {
            label for=(id) { (slider.label) }
            output for=(id) { (slider.shown) }
            input type="range" id=(id) name=(slider.name) min=(slider.min) max=(slider.max) step=(slider.step) value=(slider.value)
                data-labels=[slider.labels] aria-valuetext=(slider.shown);
        }
    }
}
