//! Curves of a traced set-up: contrast over fineness, focus and field; fans; curvature, colour, light, distortion.

use maud::{Markup, html};
use rays::{FanRay, Transfer, Zone};

use crate::bench::{Found, Wanted};
use crate::web::fmt;
use crate::web::plot::{Axis, Chart, Mark, Style};

/// A place in words by its distance from the middle: half-way is half of the way to the corner.
pub(super) fn place_name(film_mm: f64, corner_mm: f64) -> String {
    match film_mm / corner_mm {
        0.0 => "middle".into(),
        share if (share - 0.5).abs() < 0.01 => "half-way".into(),
        share if (share - 1.0).abs() < 0.01 => "corner".into(),
        _ => format!("{film_mm:.1} mm out"),
    }
}

fn line(label: impl Into<String>, points: Vec<(f64, f64)>, style: u8) -> Mark {
    Mark::Line { label: label.into(), points, style: Style(style) }
}

fn chart(id: &str, title: &str, words: &str, axes: (Axis, Axis), marks: Vec<Mark>) -> Markup {
    marks.into_iter().fold(Chart::new(id, title, words, axes.0, axes.1), Chart::with).show()
}

fn contrast_axis() -> Axis {
    Axis::linear("Contrast left", "").range(0.0, 1.0)
}

/// Two lines a place, one for the middle, where both directions are alike. `read` gives the points of a place's contrast.
fn by_place(
    found: &Found,
    wanted: &Wanted,
    read: impl Fn(usize, &dyn Fn(&Transfer) -> f64) -> Vec<(f64, f64)>,
) -> Vec<Mark> {
    let sagittal = |transfer: &Transfer| transfer.sagittal.abs();
    let tangential = |transfer: &Transfer| transfer.tangential.contrast();
    let mut marks = Vec::new();
    for (place, film_mm) in
        wanted.film_mm.iter().enumerate().filter(|(place, _)| found.prediction.zones[*place].is_ok())
    {
        let (name, style) = (place_name(*film_mm, wanted.corner_mm()), marks.len() as u8);
        if *film_mm == 0.0 {
            marks.push(line(name, read(place, &sagittal), style));
        } else {
            marks.push(line(format!("{name}, sagittal"), read(place, &sagittal), style));
            marks.push(line(format!("{name}, tangential"), read(place, &tangential), style + 1));
        }
    }
    marks
}

/// Contrast over fineness.
pub(super) fn over_frequency(found: &Found, wanted: &Wanted) -> Markup {
    let marks = by_place(found, wanted, |place, of| {
        let transfers = found.prediction.zones[place].iter().flat_map(|zone| &zone.transfer);
        std::iter::once((0.0, 1.0)).chain(wanted.cycles_per_mm.iter().copied().zip(transfers.map(of))).collect()
    });
    let words =
        "Contrast of ever finer patterns on film, for patterns across the radius (sagittal) and along it (tangential).";
    let axes = (Axis::linear("Fineness on film", "lp/mm"), contrast_axis());
    chart("over-frequency", "Contrast over fineness", words, axes, marks)
}

/// Contrast with the film moved.
pub(super) fn over_focus(found: &Found, wanted: &Wanted) -> Markup {
    let marks = by_place(found, wanted, |place, of| {
        let at = |plane: &crate::bench::Plane| Some((plane.shift_mm, of(plane.transfers[place].as_ref()?.first()?)));
        found.through_focus.iter().filter_map(at).collect()
    });
    let title = format!("Contrast through focus, {} lp/mm", wanted.main_cycles_per_mm);
    let words = "Contrast with the film moved from where it was focused: curves that peak beside each other tell of a bent field.";
    let axes = (Axis::linear("Film moved away from the lens", "mm"), contrast_axis());
    chart("over-focus", &title, words, axes, marks)
}

/// Points over the field of whatever a zone tells.
fn over(found: &Found, of: impl Fn(&Zone) -> f64) -> Vec<(f64, f64)> {
    found.over_field.iter().filter_map(|(film_mm, zone)| Some((*film_mm, of(zone.as_ref().ok()?)))).collect()
}

fn contrast(zone: &Zone) -> Transfer {
    zone.transfer.first().copied().unwrap_or_default()
}

fn field_axis() -> Axis {
    Axis::linear("From the middle, on film", "mm")
}

/// Contrast from the middle to the corner.
pub(super) fn over_field(found: &Found, wanted: &Wanted) -> Markup {
    let title = format!("Contrast over the field, {} lp/mm", wanted.main_cycles_per_mm);
    let marks = vec![
        line("sagittal", over(found, |zone| contrast(zone).sagittal.abs()), 0),
        line("tangential", over(found, |zone| contrast(zone).tangential.contrast()), 1),
    ];
    chart(
        "over-field",
        &title,
        "How contrast falls from the middle to the corner.",
        (field_axis(), contrast_axis()),
        marks,
    )
}

/// Field curvature and astigmatism, with the surface that would be left without astigmatism.
pub(super) fn curvature(found: &Found) -> Markup {
    let middle = found
        .over_field
        .first()
        .and_then(|(_, zone)| zone.as_ref().ok())
        .map_or(0.0, |zone| zone.field_focus.sagittal_mm);
    let petzval = found.sums.petzval_per_mm;
    let surface = |film_mm: f64| middle - 0.5 * petzval * film_mm * film_mm;
    let marks = vec![
        line("sagittal", over(found, |zone| zone.field_focus.sagittal_mm), 0),
        line("tangential", over(found, |zone| zone.field_focus.tangential_mm), 1),
        line("Petzval surface", found.over_field.iter().map(|(film_mm, _)| (*film_mm, surface(*film_mm))).collect(), 2),
    ];
    let axes = (field_axis(), Axis::linear("Sharp behind the film", "mm"));
    let words = "Where narrow pencils of the main colour are sharp: the space between both curves is astigmatism, their bend is field curvature.";
    chart("curvature", "Field curvature and astigmatism", words, axes, marks)
}

/// Red and blue beside green, and what is left along the axis.
pub(super) fn colour(found: &Found) -> Markup {
    let beside = |at: usize| over(found, |zone| zone.colours_mm.get(at).map_or(0.0, |(_, mm)| 1e3 * mm));
    let marks = vec![line("blue, 486 nm", beside(0), 3), line("red, 656 nm", beside(2), 1)];
    let axes = (field_axis(), Axis::linear("Farther out", "µm"));
    let along = found
        .prediction
        .axial_mm
        .iter()
        .map(|(colour, mm)| format!("{:.0} nm {} mm", 1e3 * colour.um(), fmt::signed(*mm, 3)))
        .collect::<Vec<_>>();
    html! {
        (chart("colour", "Lateral colour", "How far the middle of red and of blue light lies beside that of 588 nm.", axes, marks))
        p.small { "Axial colour, where each is sharp against 588 nm: " (along.join(", ")) "." }
    }
}

/// Light and distortion.
pub(super) fn light(found: &Found) -> Markup {
    // A little above the whole, or a lens that loses nothing draws its line along the frame.
    let axes = (field_axis(), Axis::linear("Share of the middle's light", "").range(0.0, 1.1));
    let marks = vec![line("", over(found, |zone| zone.illumination.clamp(0.0, 1.0)), 0)];
    chart(
        "light",
        "Relative illumination",
        "How light falls off towards the corners, clear diameters and slant counted.",
        axes,
        marks,
    )
}

pub(super) fn distortion(found: &Found) -> Markup {
    let axes = (field_axis(), Axis::linear("Farther out", "%"));
    let marks = vec![line("", over(found, |zone| 100.0 * zone.distortion), 0)];
    chart("distortion", "Distortion", "Above zero lines bend as a cushion's, below it as a barrel's.", axes, marks)
}

/// Rays along both diameters of the stop, a chart a place.
pub(super) fn fans(found: &Found, wanted: &Wanted) -> Markup {
    let places = wanted.film_mm.iter().zip(&found.rays).enumerate();
    html! {
        div.columns {
            @for (index, (film_mm, rays)) in places {
                @if let Some(rays) = rays { (fan(index, &place_name(*film_mm, wanted.corner_mm()), rays)) }
            }
        }
    }
}

/// How much longer rays across the stop are than the chief ray, all places in one chart.
pub(super) fn waves(found: &Found, wanted: &Wanted) -> Markup {
    let along = |rays: &crate::bench::PlaceRays| -> Option<Vec<(f64, f64)>> {
        let (_, fan) = rays.fans.get(1)?;
        Some(fan.tangential.iter().flatten().map(|ray| (ray.stop, ray.waves)).collect())
    };
    let places = wanted.film_mm.iter().zip(&found.rays).zip([0, 1, 3]);
    let mark = |((film_mm, rays), style): ((&f64, &Option<crate::bench::PlaceRays>), u8)| {
        Some(line(place_name(*film_mm, wanted.corner_mm()), along(rays.as_ref()?)?, style))
    };
    let axes = (Axis::linear("Place in the stop, in radii", ""), Axis::linear("Longer by", "waves"));
    let words = "The wave against a sphere about the chief ray's place on film: level is perfect, a quarter of a wave hardly shows.";
    chart("waves", "Wave aberration, along the field", words, axes, places.filter_map(mark).collect())
}

fn fan(index: usize, place: &str, rays: &crate::bench::PlaceRays) -> Markup {
    let along = |rays: &[Option<FanRay>], axis: usize| {
        rays.iter().flatten().map(|ray| (ray.stop, 1e3 * ray.miss_mm[axis])).collect::<Vec<_>>()
    };
    let styles = [3, 0, 1];
    let names = ["486 nm", "588 nm", "656 nm"];
    let mut marks: Vec<Mark> = (rays.fans.iter().zip(names).zip(styles))
        .map(|(((_, fan), name), style)| line(format!("tangential, {name}"), along(&fan.tangential, 1), style))
        .collect();
    if let Some((_, fan)) = rays.fans.get(1) {
        marks.push(line("sagittal, 588 nm", along(&fan.sagittal, 0), 2));
    }
    let axes = (Axis::linear("Place in the stop, in radii", ""), Axis::linear("Misses by", "µm"));
    let words = "Where rays through a diameter of the stop meet the film: a level line is a point, a sloping one is out of focus.";
    chart(&format!("fan-{index}"), &format!("Ray fans, {place}"), words, axes, marks)
}
