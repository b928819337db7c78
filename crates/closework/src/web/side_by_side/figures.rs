//! The figures of whole frames, like with like, and which of their differences are larger than their uncertainty.

use maud::{Markup, html};

use super::compared::{Compared, Figure};
use crate::documents::{FrameDocument, Measured, SharpnessDocument};
use crate::web::fmt;

/// One figure of all scans.
pub(super) struct Row {
    pub name: String,
    pub unit: &'static str,
    /// Shown beside the panes, too.
    pub main: bool,
    pub cells: Vec<Option<Figure>>,
}

/// A name, a unit, and where the figure lies in a document.
type Plain = (&'static str, &'static str, fn(&FrameDocument) -> Option<Figure>);

/// Figures that a frame has once, the main ones first.
const PLAIN: [Plain; 7] = [
    ("Red against green, corner", "µm on film", |frame| fringe(frame, "red")),
    ("Blue against green, corner", "µm on film", |frame| fringe(frame, "blue")),
    ("Fall-off to the darkest corner", "stops", |frame| Some(of(frame.evenness.as_ref()?.falloff_stops))),
    ("Veiling glare, of white", "%", glare),
    ("Sharp surface above the card, middle", "mm", focus),
    ("Greys above where they should be", "stops", |frame| frame.exposure.as_ref()?.offset_stops.map(of)),
    ("Grain, granularity", "", |frame| frame.grain.as_ref()?.granularity.map(of)),
];

fn of(measured: Measured) -> Figure {
    Figure { value: measured.value, plus_minus: Some(measured.plus_minus) }
}

fn fringe(frame: &FrameDocument, colour: &str) -> Option<Figure> {
    let corner = frame.fringing.as_ref()?.channels.get(colour)?.field.last()?;
    Some(of(corner.radial_um))
}

/// Of the luminance, or of green; a bound is no figure.
fn glare(frame: &FrameDocument) -> Option<Figure> {
    let channel = ["luminance", "green", "grey"].iter().find_map(|name| frame.contrast.get(*name))?;
    let plus_minus = channel.glare.plus_minus?;
    Some(Figure { value: 100.0 * channel.glare.value, plus_minus: Some(100.0 * plus_minus) })
}

/// Height of the sharp surface above the card: what the ramps and edges together say, or the first ramp alone. Where a surface curved the other
/// way fits as well, the interval holds both.
pub(super) fn focus(frame: &FrameDocument) -> Option<Figure> {
    let Some(alignment) = &frame.alignment else { return frame.ramps.first().map(|ramp| of(ramp.focus_mm)) };
    let own = alignment.centre_mm;
    let other = alignment.otherwise.as_ref().map_or(own, |other| other.centre_mm);
    let reach = (other.value - own.value).abs() + other.plus_minus;
    Some(Figure { value: own.value, plus_minus: Some(own.plus_minus.max(reach)) })
}

/// Every figure that at least one of the scans has.
pub(super) fn rows(all: &[&Compared]) -> Vec<Row> {
    let mut rows = sharpness(all);
    for (k, (name, unit, figure)) in PLAIN.into_iter().enumerate() {
        let cells: Vec<Option<Figure>> = all.iter().map(|c| c.whole.as_ref().and_then(figure)).collect();
        if cells.iter().any(Option::is_some) {
            rows.push(Row { name: name.into(), unit, main: k < 3, cells });
        }
    }
    rows
}

/// Half of the contrast left, zone by zone and way by way, on the subject.
fn sharpness(all: &[&Compared]) -> Vec<Row> {
    let mut kinds: Vec<(String, String)> = Vec::new();
    let zones = all.iter().filter_map(|c| c.whole.as_ref()).flat_map(|frame| &frame.zones);
    for (zone, way) in zones.flat_map(|zone| zone.sharpness.keys().map(move |way| (&zone.zone, way))) {
        if !kinds.iter().any(|(z, w)| z == zone && w == way) {
            kinds.push((zone.clone(), way.clone()));
        }
    }
    let on_subject = |sharpness: &SharpnessDocument| sharpness.mtf50_subject_lp_mm.map(of);
    let row = |(zone, way): (String, String)| {
        let cell = |c: &&Compared| {
            let found = c.whole.as_ref()?.zones.iter().find(|z| z.zone == zone)?;
            found.sharpness.get(&way).and_then(on_subject)
        };
        let cells: Vec<Option<Figure>> = all.iter().map(cell).collect();
        let main = zone == "centre" || zone == "corner";
        let words = if way == "central" { zone.clone() } else { format!("{zone}, {way}") };
        Row { name: format!("Half the contrast left, {words}"), unit: "lp/mm on the subject", main, cells }
    };
    kinds.into_iter().map(row).filter(|row| row.cells.iter().any(Option::is_some)).collect()
}

/// How one figure stands to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Standing {
    /// More or less by this, and the half-width of the difference, which it is larger than.
    Differs { by: f64, plus_minus: f64 },
    /// The difference is no larger than its half-width.
    Within,
    /// How sure one of them is is not known.
    Unsure,
}

/// The difference of two independent figures, with the root of the sum of the squares of their half-widths (JCGM 100:2008, 5.1.2).
pub(super) fn standing(own: Figure, other: Figure) -> Standing {
    let Some((a, b)) = own.plus_minus.zip(other.plus_minus) else { return Standing::Unsure };
    let (by, plus_minus) = (own.value - other.value, a.hypot(b));
    if by.abs() > plus_minus { Standing::Differs { by, plus_minus } } else { Standing::Within }
}

/// A figure beside the first scan's, in words.
pub(super) fn beside_first(own: Figure, first: Figure) -> String {
    match standing(own, first) {
        Standing::Differs { by, plus_minus } => {
            let word = if by > 0.0 { "▲ more than picture 1 by" } else { "▼ less than picture 1 by" };
            format!("{word} {}", fmt::measured(by.abs(), Some(plus_minus)))
        }
        Standing::Within => "= no difference from picture 1 that these frames can show".into(),
        Standing::Unsure => "how sure is not known".into(),
    }
}

/// Which scans differ by more than their uncertainty, in words.
fn differences(cells: &[Option<Figure>]) -> String {
    let known: Vec<(usize, Figure)> = cells.iter().enumerate().filter_map(|(k, c)| Some((k + 1, (*c)?))).collect();
    if known.len() < 2 {
        return "nothing to compare it with".into();
    }
    let mut words = Vec::new();
    let mut unsure = false;
    for (i, (one, a)) in known.iter().enumerate() {
        for (other, b) in &known[i + 1..] {
            match standing(*a, *b) {
                Standing::Differs { by, plus_minus } => {
                    let (more, less) = if by > 0.0 { (one, other) } else { (other, one) };
                    words.push(format!("{more} above {less} by {}", fmt::measured(by.abs(), Some(plus_minus))));
                }
                Standing::Within => {}
                Standing::Unsure => unsure = true,
            }
        }
    }
    match (words.is_empty(), unsure) {
        (true, false) => "no difference that these frames can show".into(),
        (true, true) => "how sure is not known".into(),
        (false, _) => words.join("; "),
    }
}

/// The table under the panes.
pub(super) fn table(all: &[&Compared], rows: &[Row]) -> Markup {
    html! {
        section aria-labelledby="whole-frames" {
            h2 id="whole-frames" { "Whole frames, figure by figure" }
            @if rows.is_empty() {
                p { "Of none of these is the whole frame measured. " a href=(format!("/scans/{}#whole", all[0].scan.id)) { "Measure the first" } "; it finds the card and its figures by itself." }
            } @else {
                p { "With 95 % intervals. A difference counts when it is larger than the interval of the difference." }
                div.scroll tabindex="0" role="region" aria-label="Whole frames" {
                    table.like {
                        thead { tr {
                            th scope="col" { "Figure" }
                            @for (k, c) in all.iter().enumerate() { th scope="col" { (k + 1) ": " (c.scan.file_name) } }
                            th scope="col" { "Larger than its uncertainty" }
                        } }
                        tbody { @for row in rows {
                            tr {
                                th scope="row" { (row.name) @if !row.unit.is_empty() { br; span.small.soft { (row.unit) } } }
                                @for cell in &row.cells { td { (shown(*cell)) } }
                                td { (differences(&row.cells)) }
                            }
                        } }
                    }
                }
            }
        }
    }
}

fn shown(cell: Option<Figure>) -> Markup {
    match cell {
        Some(figure) => html! { (fmt::measured(figure.value, figure.plus_minus)) },
        None => html! { span.soft { "not measured" } },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(value: f64, plus_minus: f64) -> Figure {
        Figure { value, plus_minus: Some(plus_minus) }
    }

    #[test]
    fn a_difference_counts_when_it_is_larger_than_its_own_interval() {
        // 3 and 4 make 5 (JCGM 100:2008, 5.1.2).
        assert_eq!(standing(figure(40.0, 3.0), figure(35.5, 4.0)), Standing::Within);
        assert!(matches!(standing(figure(40.0, 3.0), figure(34.5, 4.0)), Standing::Differs { .. }));
        assert!(matches!(standing(figure(34.5, 3.0), figure(40.0, 4.0)), Standing::Differs { by, .. } if by < 0.0));
        let unsure = Figure { value: 1.0, plus_minus: None };
        assert_eq!(standing(unsure, figure(9.0, 0.1)), Standing::Unsure);
    }

    #[test]
    fn differences_are_told_pair_by_pair() {
        let cells = [Some(figure(40.0, 1.0)), None, Some(figure(30.0, 1.0)), Some(figure(39.5, 1.0))];
        let words = differences(&cells);
        assert!(words.contains("1 above 3") && words.contains("4 above 3") && !words.contains("1 above 4"), "{words}");
        assert_eq!(differences(&cells[..2]), "nothing to compare it with");
        let alike = [Some(figure(40.0, 1.0)), Some(figure(40.5, 1.0))];
        assert_eq!(differences(&alike), "no difference that these frames can show");
    }
}
