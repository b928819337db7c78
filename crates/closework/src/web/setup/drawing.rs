//! The set-up from the side, to scale: film at the left, subject at the right, in the order in which parts are named.

use kit::{Kind, Mounting, Report, Setup, Spec};
use maud::{Markup, html};
use optics::Figure;

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
    spec: Spec<f64>,
    setup: &'a Setup<'a>,
    travel: f64,
    /// The foremost edge of the set-up.
    front: f64,
    /// Where glass sits, from the film outwards.
    planes: Vec<(f64, f64)>,
    /// `None` when infinitely far.
    subject: Option<f64>,
    field_height: f64,
}

impl<'a> Side<'a> {
    fn of(setup: &'a Setup<'a>, report: &Report) -> Self {
        let spec = setup.numbers();
        let travel = spec.travel().unwrap_or(0.0);
        let train = spec.train(travel);
        let figure = |figure| report.figures.get(figure).map(|e| e.value);
        Self {
            front: train.front,
            planes: train.elements.iter().map(|e| (e.front, e.back)).collect(),
            subject: figure(Figure::SubjectToFilm),
            field_height: figure(Figure::FieldHeight).unwrap_or(0.0),
            setup,
            travel,
            spec,
        }
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
        self.spec.frame[1] + 34.0
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
pub(super) fn side_view(setup: &Setup<'_>, report: &Report, units: Units) -> Markup {
    let side = Side::of(setup, report);
    let paper = Paper::new(&side);
    let words = in_words(setup, report, units);
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
            p.soft.small { (words) }
        }
    }
}

fn in_words(setup: &Setup<'_>, report: &Report, units: Units) -> String {
    let names: Vec<_> = setup.choices().iter().map(|choice| choice.part.name()).collect();
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
    format!("From the film outwards: {}. {spare}", names.join(", "))
}

/// Kind, beginning and end of each tube and bellows, mm in front of the film.
fn spacer_places(side: &Side<'_>) -> Vec<(Kind, f64, f64)> {
    let kinds = side.setup.choices().iter().map(|choice| choice.part.kind());
    let kinds = kinds.filter(|kind| matches!(kind, Kind::Tube | Kind::Bellows));
    let mut end = side.spec.register;
    kinds
        .zip(&side.spec.spacers)
        .map(|(kind, length)| {
            let from = end;
            end += length;
            (kind, from, end)
        })
        .collect()
}

fn parts(side: &Side<'_>, paper: &Paper) -> Markup {
    let spacers = spacer_places(side);
    let seat = spacers.last().map_or(side.spec.register, |(_, _, end)| *end);
    let middle = barrel_height(side.setup).max(50.0);
    html! {
        (paper.tube("body", -BODY_BACK_MM, side.spec.register, side.body_height()))
        (paper.upright("film", 0.0, side.spec.frame[1]))
        @for (kind, from, to) in spacers {
            @if kind == Kind::Tube { (paper.tube("tube", from, to, middle)) } @else { (bellows(paper, from, to, middle)) }
        }
        (lens(side, paper, seat))
        (glass(side, paper))
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

/// The barrel, its helical drawn out, or the ring and the barrel turned round.
fn lens(side: &Side<'_>, paper: &Paper, seat: f64) -> Markup {
    let (height, length) = (barrel_height(side.setup), side.spec.lens.length);
    match side.spec.mounting {
        Mounting::Normal => html! {
            (paper.tube("helical", seat, seat + side.travel, height * 0.8))
            (paper.tube("barrel", seat + side.travel, seat + side.travel + length, height))
        },
        Mounting::Reversed(ring) => html! {
            (paper.tube("ring", seat, seat + ring, height))
            (paper.tube("barrel", seat + ring, seat + ring + length, height))
            (paper.tube("helical", seat + ring + length, seat + ring + length + side.travel, height * 0.8))
        },
    }
}

/// Principal planes of the lens, and close-up lenses.
fn glass(side: &Side<'_>, paper: &Paper) -> Markup {
    let height = barrel_height(side.setup);
    html! {
        @for (index, (front, back)) in side.planes.iter().enumerate() {
            @if index == 0 {
                (paper.upright("plane", *front, height * 0.8))
                (paper.upright("plane", *back, height * 0.8))
            } @else { (close_up(paper, *front, height)) }
        }
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

/// The rays from the ends of the field through the principal planes to the ends of the frame.
fn light(side: &Side<'_>, paper: &Paper) -> Markup {
    let (Some(subject), false) = (side.subject, side.broken()) else { return html! {} };
    let Some(&(front, back)) = side.planes.first() else { return html! {} };
    let (half, frame) = (side.field_height / 2.0, side.spec.frame[1] / 2.0);
    let ray = |sign: f64| {
        format!(
            "M{} {}L{} {}M{} {}L{} {}",
            at(paper.x(subject)),
            at(paper.y(sign * half)),
            at(paper.x(front)),
            at(paper.axis),
            at(paper.x(back)),
            at(paper.axis),
            at(paper.x(0.0)),
            at(paper.y(-sign * frame)),
        )
    };
    // With a close-up lens in front the ray bends there; the plain line would be wrong, so none is drawn.
    if side.planes.len() > 1 {
        return html! {};
    }
    html! { path.ray d=(ray(1.0)) {} path.ray d=(ray(-1.0)) {} }
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
    // A reversed lens's travel lies at its seat, beyond the glass: the line spans what lies between body and ring.
    let reversed = matches!(side.spec.mounting, Mounting::Reversed(_));
    let extension = side.spec.extension(if reversed { 0.0 } else { side.travel });
    html! {
        (dimension(paper, (side.front, to), base + 22.0, &format!("{} free", length(Figure::WorkingDistance))))
        @if extension > 0.0 {
            (dimension(paper, (side.spec.register, side.spec.register + extension), base + 22.0, &format!("{} extension", length(Figure::Extension))))
        }
        (dimension(paper, (0.0, to), base + 66.0, &format!("{} film to subject", length(Figure::SubjectToFilm))))
        (scale_bar(paper, base + 100.0))
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
