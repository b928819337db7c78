//! The set-up from the side, to scale: film at the left, subject at the right, in the order in which parts are named.

use kit::{Choice, Facing, Kind, Layout, LensLink, Link, Report, Setup};
use maud::{Markup, html};
use optics::Figure;

use crate::bench::{Designs, Section, not_yours};
use crate::web::bench;
use crate::web::fmt;
use crate::web::manners::Units;
use crate::web::plot::at;

const WIDTH: f64 = 1000.0;
const MARGIN: f64 = 26.0;
/// Beyond this many mm the way to the subject is broken off, so that the parts stay large enough to be seen.
const LONGEST_MM: f64 = 900.0;
/// How far behind the film a body reaches, mm: nothing depends on it but the drawing.
const BODY_BACK_MM: f64 = 22.0;

/// Places along the axis in mm in front of the film.
struct Side<'a> {
    frame: [f64; 2],
    register: f64,
    setup: &'a Setup<'a>,
    layout: Layout<f64>,
    links: Vec<Link<f64>>,
    f_number: f64,
    /// The foremost edge of the set-up.
    front: f64,
    /// `None` when infinitely far.
    subject: Option<f64>,
    field_height: f64,
    /// Whether principal planes and pupils are asked for.
    planes: bool,
    /// Glass and rays, where the lenses have forms to stand for them.
    glass: Option<Section>,
}

impl<'a> Side<'a> {
    /// `None` for a set-up that has no layout, which its report has refused already.
    fn of(setup: &'a Setup<'a>, report: &Report, planes: bool) -> Option<Self> {
        let (layout, spec) = (setup.layout().ok()?, setup.numbers());
        let figure = |figure| report.figures.get(figure).map(|e| e.value);
        Some(Self {
            frame: spec.frame,
            register: spec.register,
            front: layout.train.front,
            subject: figure(Figure::SubjectToFilm),
            field_height: figure(Figure::FieldHeight).unwrap_or(0.0),
            setup,
            layout,
            links: spec.links,
            f_number: spec.f_number,
            planes,
            glass: bench::glass_of(setup),
        })
    }

    fn broken(&self) -> bool {
        self.subject.is_none_or(|subject| subject > LONGEST_MM.max(2.0 * self.front))
    }

    /// Where the drawing ends, mm.
    fn end(&self) -> f64 {
        match self.subject {
            Some(subject) if !self.broken() => subject + 14.0,
            _ => self.front + 140.0,
        }
    }

    fn body_height(&self) -> f64 {
        self.frame[1] + 34.0
    }

    /// The largest half-height that is drawn, mm.
    fn half_height(&self) -> f64 {
        let field = if self.broken() { 0.0 } else { self.field_height.min(400.0) };
        (self.body_height().max(field).max(barrel_height(self.setup)) / 2.0) + 4.0
    }
}

/// Where millimetres fall in the drawing.
struct Paper {
    scale: f64,
    axis: f64,
    /// Below everything that is drawn to scale.
    below: f64,
    height: f64,
}

impl Paper {
    fn new(side: &Side<'_>) -> Self {
        let scale = (WIDTH - 2.0 * MARGIN) / (side.end() + BODY_BACK_MM);
        let axis = side.half_height() * scale + 14.0;
        let below = axis + side.body_height() / 2.0 * scale + 4.0;
        Self { scale, axis, below, height: 2.0 * axis + 112.0 }
    }

    fn x(&self, mm: f64) -> f64 {
        MARGIN + (mm + BODY_BACK_MM) * self.scale
    }

    fn y(&self, mm: f64) -> f64 {
        self.axis - mm * self.scale
    }

    /// A box from `from` to `to` mm in front of the film, `height` mm high about the axis.
    fn tube(&self, class: &str, from: f64, to: f64, height: f64) -> Markup {
        let (x, y) = (self.x(from), self.y(height / 2.0));
        html! { rect class=(class) x=(at(x)) y=(at(y)) width=(at((to - from) * self.scale)) height=(at(height * self.scale)) {} }
    }

    fn upright(&self, class: &str, mm: f64, height: f64) -> Markup {
        let d = format!("M{} {}V{}", at(self.x(mm)), at(self.y(height / 2.0)), at(self.y(-height / 2.0)));
        html! { path class=(class) d=(d) {} }
    }
}

fn barrel_height(setup: &Setup<'_>) -> f64 {
    let lens = setup.lens();
    let pupil = lens.number("focal_length_mm").unwrap_or(50.0) / lens.number("max_aperture").unwrap_or(4.0);
    lens.number("thread_mm").map_or(pupil + 14.0, |thread| thread + 4.0).max(pupil + 6.0)
}

/// The side view with its dimension lines and the same in words.
pub(super) fn side_view(setup: &Setup<'_>, report: &Report, units: Units, planes: bool) -> Markup {
    let Some(side) = Side::of(setup, report, planes) else { return html! {} };
    let paper = Paper::new(&side);
    let words = in_words(&side, report, units);
    html! {
        figure.plot.side-view {
            figcaption { "From the side, to scale" }
            div.scroll tabindex="0" role="region" aria-label="The set-up from the side" {
                svg viewBox=(format!("0 0 {WIDTH} {}", at(paper.height))) role="img" aria-labelledby="side-d" {
                    desc id="side-d" { (words) }
                    (parts(&side, &paper))
                    path.axis-line d=(format!("M{} {}H{}", at(MARGIN), at(paper.axis), at(WIDTH - MARGIN))) {}
                    (light(&side, &paper))
                    (far_end(&side, &paper))
                    (dimensions(&side, &paper, report, units))
                }
            }
            p.soft.small {
                (words)
                @if Designs::of(setup).of_lens(setup.lens()).is_err() { " " a href=(format!("/bench?lens={}", setup.lens().id())) { "Choose a design form to see its glass" } }
            }
        }
    }
}

fn in_words(side: &Side<'_>, report: &Report, units: Units) -> String {
    let names: Vec<_> = side.setup.choices().iter().map(Choice::name).collect();
    let length = |figure| {
        report.figures.get(figure).map_or("infinitely far".into(), |e| fmt::length(e.value, e.half_width(), units))
    };
    let spare =
        report.figures.get(Figure::WorkingDistance).map_or("The sharp plane is infinitely far away.".into(), |_| {
            format!(
                "From the front to the subject {}; from the film {}.",
                length(Figure::WorkingDistance),
                length(Figure::SubjectToFilm)
            )
        });
    let light = side.light_angle_deg().map_or(String::new(), |angle| {
        format!(
            " Light reaches the middle of the subject from up to {} degrees above its plane.",
            fmt::figure(angle, 2)
        )
    });
    let planes = if side.planes { side.planes_in_words(units) } else { String::new() };
    let glass = side.glass.as_ref().map_or(String::new(), |_| {
        let designs: Vec<_> =
            side.setup.lenses().iter().filter_map(|(_, lens, _)| Designs::of(side.setup).of_lens(lens).ok()).collect();
        format!(
            " The glass is that of the chosen designs, with the outermost rays of the middle and of the edge: {}.",
            not_yours(&designs)
        )
    });
    format!("From the film outwards: {}. {spare}{light}{planes}{glass}", names.join(", "))
}

impl Side<'_> {
    /// The widest edge at the front, mm from the axis, that stands in the way of lamps.
    fn front_radius(&self) -> f64 {
        let last = self.setup.choices().iter().rev().find_map(Choice::part);
        let thread = last.and_then(|part| part.number("thread_mm").or_else(|| part.number("to_mm")));
        thread.map_or(barrel_height(self.setup) / 2.0, |thread| thread / 2.0 + 2.0)
    }

    /// The steepest direction, above the subject's own plane, from which light still passes the front, degrees.
    fn light_angle_deg(&self) -> Option<f64> {
        let room = self.subject.filter(|_| !self.broken())? - self.front;
        Some(room.atan2(self.front_radius()).to_degrees())
    }

    /// Pupils of the lens nearest the body: place in mm in front of the film, diameter, and which.
    fn pupils(&self) -> Vec<(f64, f64, &'static str)> {
        let lens = self.links.iter().enumerate().find_map(|(index, link)| match link {
            Link::Lens(lens) => Some((index, lens)),
            _ => None,
        });
        let Some((index, lens)) = lens else { return Vec::new() };
        let Some(element) = self.layout.element_of.iter().position(|owner| *owner == index) else { return Vec::new() };
        let element = self.layout.train.elements[element];
        let (f, p) = (1.0 / element.power, lens.lens.pupil_ratio);
        let [entrance, exit] = [f / self.f_number, p * f / self.f_number];
        match lens.facing {
            Facing::Normal => vec![
                (element.front - f * (1.0 / p - 1.0), entrance, "entrance pupil"),
                (element.back - f * (1.0 - p), exit, "exit pupil"),
            ],
            Facing::Reversed => vec![
                (element.front + f * (1.0 - p), exit, "exit pupil, towards the subject"),
                (element.back + f * (1.0 / p - 1.0), entrance, "entrance pupil, towards the film"),
            ],
        }
    }

    fn planes_in_words(&self, units: Units) -> String {
        let from_film = |mm: f64| fmt::figure_length(mm, units);
        let pupils = self.pupils().into_iter().map(|(place, wide, name)| {
            format!(" The {name}, {} in front of the film, is {} wide.", from_film(place), from_film(wide))
        });
        let planes = self.layout.train.elements.iter().map(|element| {
            format!(
                " Principal planes {} and {} in front of the film.",
                from_film(element.back),
                from_film(element.front)
            )
        });
        planes.chain(pupils).collect()
    }

    /// The chief ray from the subject's edge: its corners, (mm in front of the film, height).
    fn chief_ray(&self) -> Option<Vec<(f64, f64)>> {
        let subject = self.subject.filter(|_| !self.broken())?;
        let image = self.layout.train.image().ok()?;
        let mut height = self.field_height / 2.0;
        let mut slope = -height * image.inverse_pupil_distance;
        let mut corners = vec![(subject, height)];
        let mut at_mm = subject;
        for element in self.layout.train.elements.iter().rev() {
            height += slope * (at_mm - element.front);
            corners.extend([(element.front, height), (element.back, height)]);
            slope -= height * element.power;
            at_mm = element.back;
        }
        corners.push((0.0, height + slope * at_mm));
        Some(corners)
    }
}

fn parts(side: &Side<'_>, paper: &Paper) -> Markup {
    let middle = barrel_height(side.setup).max(50.0);
    let links = side.setup.choices()[1..].iter().zip(&side.links).zip(&side.layout.spans);
    html! {
        (paper.tube("body", -BODY_BACK_MM, side.register, side.body_height()))
        (paper.upright("film", 0.0, side.frame[1]))
        @for ((choice, link), span) in links {
            (part(side, paper, (choice, link), *span, middle))
        }
        @for (index, element) in side.layout.train.elements.iter().enumerate() {
            (schematic(side, paper, &side.links[side.layout.element_of[index]], element))
        }
        @if side.planes {
            @for (place, wide, _) in side.pupils() { (paper.upright("pupil", place, wide)) }
        }
    }
}

fn part(
    side: &Side<'_>,
    paper: &Paper,
    (choice, link): (&Choice<'_>, &Link<f64>),
    [from, to]: [f64; 2],
    middle: f64,
) -> Markup {
    let height = barrel_height(side.setup);
    match (choice.kind(), link) {
        (Some(Kind::Bellows), _) => bellows(paper, from, to, middle),
        (Some(Kind::Tube | Kind::Adapter), _) => paper.tube("tube", from, to, middle),
        (Some(Kind::Teleconverter), _) => paper.tube("barrel", from, to, middle),
        (Some(Kind::ReversingRing | Kind::CouplingRing | Kind::StepRing), _) => paper.tube("ring", from, to, height),
        (Some(Kind::Lens), Link::Lens(lens)) => barrel(paper, lens, [from, to], height),
        _ => html! {},
    }
}

/// The folds of a bellows.
fn bellows(paper: &Paper, from: f64, to: f64, height: f64) -> Markup {
    let folds = (((to - from) / 6.0).round() as i32).clamp(2, 40);
    let place = |i: i32| paper.x(from + (to - from) * f64::from(i) / f64::from(folds));
    let edge = |sign: f64| -> String {
        let fold = |i: i32| {
            let inset = if i % 2 == 0 { 0.0 } else { 5.0 };
            format!("{}{} {}", if i == 0 { "M" } else { "L" }, at(place(i)), at(paper.y(sign * (height / 2.0 - inset))))
        };
        (0..=folds).map(fold).collect()
    };
    html! {
        path.folds d=(edge(1.0)) {}
        path.folds d=(edge(-1.0)) {}
        @for i in 0..=folds { @if i % 2 == 0 { path.fold d=(format!("M{} {}V{}", at(place(i)), at(paper.y(height / 2.0)), at(paper.y(-height / 2.0)))) {} } }
    }
}

/// The barrel, its helical drawn out, or the barrel turned round.
fn barrel(paper: &Paper, lens: &LensLink<f64>, [from, to]: [f64; 2], height: f64) -> Markup {
    let length = lens.lens.length;
    match lens.facing {
        Facing::Normal => html! {
            (paper.tube("helical", from, to - length, height * 0.8))
            (paper.tube("barrel", to - length, to, height))
        },
        Facing::Reversed => html! {
            (paper.tube("barrel", from, from + length, height))
            (paper.tube("helical", from + length, to, height * 0.8))
        },
    }
}

/// Principal planes of a lens where they are asked for, the bend of a close-up lens always.
fn schematic(side: &Side<'_>, paper: &Paper, link: &Link<f64>, element: &optics::Element<f64>) -> Markup {
    let height = barrel_height(side.setup);
    match link {
        Link::CloseUp(_) if side.glass.is_none() => close_up(paper, element.front, height),
        Link::Converter(_) => paper.upright("plane", element.front, height * 0.6),
        Link::Lens(_) if side.planes => html! {
            (paper.upright("plane", element.front, height * 0.8))
            (paper.upright("plane", element.back, height * 0.8))
        },
        _ => html! {},
    }
}

fn close_up(paper: &Paper, at_mm: f64, height: f64) -> Markup {
    let (x, top, bottom) = (paper.x(at_mm), paper.y(height / 2.0 - 2.0), paper.y(2.0 - height / 2.0));
    let bulge = 4.0 * paper.scale;
    let d = format!(
        "M{x} {top}Q{} {mid} {x} {bottom}Q{} {mid} {x} {top}Z",
        at(x + bulge),
        at(x - bulge),
        x = at(x),
        top = at(top),
        bottom = at(bottom),
        mid = at(paper.axis)
    );
    html! { path.close-up d=(d) {} }
}

/// The chief rays from the edges of the field to the edges of the frame, and the directions left for lamps.
fn light(side: &Side<'_>, paper: &Paper) -> Markup {
    if side.glass.is_none() && side.chief_ray().is_none() {
        return html! {};
    }
    let corners = side.chief_ray().unwrap_or_default();
    let ray = |sign: f64| -> String {
        let corner = |(index, (mm, height)): (usize, &(f64, f64))| {
            format!("{}{} {}", if index == 0 { "M" } else { "L" }, at(paper.x(*mm)), at(paper.y(sign * height)))
        };
        corners.iter().enumerate().map(corner).collect()
    };
    let subject = side.subject.unwrap_or(side.front);
    let edge = side.front_radius();
    let lamp = |sign: f64| {
        format!("M{} {}L{} {}", at(paper.x(subject)), at(paper.axis), at(paper.x(side.front)), at(paper.y(sign * edge)))
    };
    html! {
        @if let Some(glass) = &side.glass {
            clipPath id="side-c" { rect x=(at(paper.x(0.0))) y="0" width=(at((side.end() - 14.0) * paper.scale)) height=(at(2.0 * paper.axis)) {} }
            g clip-path="url(#side-c)" { (bench::drawn(glass, |mm| paper.x(mm), |mm| paper.y(mm))) }
        } @else {
            path.ray d=(ray(1.0)) {}
            path.ray d=(ray(-1.0)) {}
        }
        path.lamp d=(lamp(1.0)) {}
        path.lamp d=(lamp(-1.0)) {}
    }
}

fn far_end(side: &Side<'_>, paper: &Paper) -> Markup {
    match side.subject {
        Some(subject) if !side.broken() => paper.upright("subject-plane", subject, side.field_height.min(400.0)),
        _ => {
            let x = paper.x(side.front + 118.0);
            let (y, d) = (paper.axis, 9.0);
            html! {
                path.break d=(format!("M{} {}l8 18l-8 18", at(x), at(y - d - 9.0))) {}
                path.break d=(format!("M{} {}l8 18l-8 18", at(x + 9.0), at(y - d - 9.0))) {}
            }
        }
    }
}

/// Dimension lines below the drawing: what is between the film, the front and the subject.
fn dimensions(side: &Side<'_>, paper: &Paper, report: &Report, units: Units) -> Markup {
    let length =
        |figure| report.figures.get(figure).map_or("infinite".into(), |e| fmt::length(e.value, e.half_width(), units));
    let base = 2.0 * paper.axis + 4.0;
    let end = side.subject.filter(|_| !side.broken());
    let to = end.unwrap_or(side.front + 112.0);
    let extension = side.extension_span();
    html! {
        (dimension(paper, (side.front, to), base + 22.0, &format!("{} free", length(Figure::WorkingDistance))))
        @if let Some(span) = extension {
            (dimension(paper, span, base + 22.0, &format!("{} extension", length(Figure::Extension))))
        }
        (dimension(paper, (0.0, to), base + 66.0, &format!("{} film to subject", length(Figure::SubjectToFilm))))
        (scale_bar(paper, base + 100.0))
    }
}

impl Side<'_> {
    /// From where to where the extension reaches: tubes and bellows up to the lens nearest the body, and its travel where that
    /// moves its glass. `None` when there is none, or when something else stands between, so that no one line spans it.
    fn extension_span(&self) -> Option<(f64, f64)> {
        let lens = self.links.iter().position(|link| matches!(link, Link::Lens(_)))?;
        let lengths = &self.links[..lens];
        if !lengths.iter().all(|link| matches!(link, Link::Gap(gap) if gap.extends)) {
            return None;
        }
        let to = self.layout.spans[lens][0] + self.layout.travel;
        (to > self.register).then_some((self.register, to))
    }
}

fn dimension(paper: &Paper, (from, to): (f64, f64), y: f64, words: &str) -> Markup {
    let (a, b) = (paper.x(from), paper.x(to));
    // Short spans carry their words beside them, where they do not run into each other.
    let middle = (a + b) / 2.0;
    let anchor = if middle > WIDTH - 190.0 {
        "end"
    } else if middle < 190.0 {
        "start"
    } else {
        "middle"
    };
    let x = match anchor {
        "end" => b,
        "start" => a,
        _ => middle,
    };
    html! {
        path.witness d=(format!("M{} {}V{}M{} {}V{}", at(a), at(paper.below), at(y + 5.0), at(b), at(paper.below), at(y + 5.0))) {}
        path.dimension d=(format!("M{a} {y}H{b}M{} {}L{a} {y}L{} {}M{} {}L{b} {y}L{} {}",
            at(paper.x(from) + 9.0), at(y - 4.0), at(paper.x(from) + 9.0), at(y + 4.0),
            at(paper.x(to) - 9.0), at(y - 4.0), at(paper.x(to) - 9.0), at(y + 4.0),
            a = at(a), b = at(b), y = at(y))) {}
        text x=(at(x)) y=(at(y - 8.0)) text-anchor=(anchor) { (words) }
    }
}

/// A bar that says how long so many millimetres are in this drawing.
fn scale_bar(paper: &Paper, y: f64) -> Markup {
    let mm = [5.0, 10.0, 20.0, 50.0, 100.0, 200.0].into_iter().find(|mm| mm * paper.scale >= 60.0).unwrap_or(500.0);
    let from = MARGIN;
    html! {
        path.scale-bar d=(format!("M{} {}v-6m0 6h{}v-6", at(from), at(y), at(mm * paper.scale))) {}
        text x=(at(from + mm * paper.scale + 8.0)) y=(at(y + 1.0)) { (mm) " mm" }
    }
}
