//! What was measured: curves of all set-ups in one chart, every figure with its interval, maps of whole frames.

use printing::{Grey, Page, Pen, Role, Style};

use super::chart::{Chart, Curve, MOST};
use super::material::{Material, Scanned};
use super::model::{Figure, Item, Section, Table, WIDTH_MM};
use crate::documents::{Bounded, EvennessDocument, FrameDocument, Measured};
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::jobs::need_for;

/// Zones of the frame with the distance from the middle, over half the diagonal, at which each ends.
const ZONES: [(&str, f64); 3] = [("centre", 0.3), ("half-way", 0.7), ("corner", 1.1)];

/// The chapter with the curves.
pub fn sharpness(m: &Material) -> Section {
    let mut section = Section::new("sharpness", "Sharpness");
    let need = need_for(&m.job, &m.kit);
    let mut drawn = 0;
    for (zone, _) in ZONES {
        let curves: Vec<Curve> = m
            .set_ups
            .iter()
            .filter_map(|set_up| {
                let scans = set_up.scans.iter().map(|place| &m.scans[*place]);
                let points = scans.filter_map(|scanned| curve(scanned, zone)).next_back()?;
                Some(Curve { name: set_up.name.clone(), points })
            })
            .collect();
        if curves.is_empty() {
            continue;
        }
        drawn += 1;
        let wanted = need.as_ref().map(|need| {
            let words =
                format!("wanted: {} at {} lp/mm", fmt::percent(need.contrast), fmt::figure(need.on_subject_lp_mm(), 3));
            (need.on_subject_lp_mm(), need.contrast, words)
        });
        section = section.with(Item::Figures(vec![chart(zone, curves, wanted).draw()]));
    }
    match drawn {
        0 => section.text("No response was measured in a scan whose size on the subject is known. Measure the printed card, or an edge and a ruler, in each scan."),
        _ => section.note("Response of lens, film and scanner together, on the subject: at the same fineness all set-ups are compared, whatever size they were taken at. Where edges lie both ways the weaker one is drawn. The newest scan of each set-up counts."),
    }
}

/// The curves that stand highest where it counts, as many as can be told apart; and how many were left out.
fn best(mut curves: Vec<Curve>, wanted: Option<f64>) -> (Vec<Curve>, usize) {
    let left_out = curves.len().saturating_sub(MOST);
    if left_out > 0 {
        let height = |curve: &Curve| match wanted {
            Some(lp_mm) => curve.points.iter().take_while(|p| p.0 <= lp_mm).last().map_or(0.0, |p| p.1),
            None => curve.points.iter().map(|p| p.1).sum(),
        };
        curves.sort_by(|a, b| height(b).total_cmp(&height(a)));
        curves.truncate(MOST);
    }
    (curves, left_out)
}

fn chart(zone: &str, curves: Vec<Curve>, wanted: Option<(f64, f64, String)>) -> Chart {
    let (curves, left_out) = best(curves, wanted.as_ref().map(|w| w.0));
    let more = match left_out {
        0 => String::new(),
        n => format!(" The {MOST} that stand highest where it counts are drawn; {n} more are in the tables."),
    };
    // As far as the last curve stays above a twentieth, and a little beyond what is wanted.
    let seen = |curve: &Curve| curve.points.iter().filter(|p| p.1 > 0.05).map(|p| p.0).fold(0.0, f64::max);
    let end = curves.iter().map(seen).fold(wanted.as_ref().map_or(0.0, |w| 1.25 * w.0), f64::max);
    let names: Vec<String> = curves
        .iter()
        .map(|curve| {
            let half = curve.points.windows(2).find(|w| w[0].1 >= 0.5 && w[1].1 < 0.5).map(|w| w[1].0);
            half.map_or(curve.name.clone(), |half| {
                format!("{} falls to one half at {} lp/mm", curve.name, fmt::figure(half, 2))
            })
        })
        .collect();
    Chart {
        caption: format!("Response at the {zone}: contrast left against fineness on the subject.{more}"),
        words: format!("Response curves at the {zone}. {}.", names.join("; ")),
        axes: ["Fineness on the subject, lp/mm".into(), "Contrast left".into()],
        ends: [end.max(1.0), 1.2],
        curves,
        wanted,
    }
}

/// The response of a zone on the subject: of a whole frame, else of an edge that lies there; the weaker way.
fn curve(scanned: &Scanned, zone: &str) -> Option<Vec<(f64, f64)>> {
    let (px_per_mm, _) = scanned.px_per_mm?;
    let of_whole = scanned.whole.as_ref().and_then(|frame| of_zone(frame, zone));
    let of_edge = || {
        let found = scanned.edges.iter().rev().find(|(_, edge, _)| zone_of(scanned, &edge.trace_px) == Some(zone))?;
        let channel = found.1.main_channel()?;
        Some(channel.sfr.iter().map(|[f, r]| (*f, *r)).collect::<Vec<_>>())
    };
    let points = of_whole.or_else(of_edge)?;
    Some(points.into_iter().map(|(f, r)| (f * px_per_mm, r)).collect())
}

fn of_zone(frame: &FrameDocument, zone: &str) -> Option<Vec<(f64, f64)>> {
    let ways = &frame.zones.iter().find(|z| z.zone == zone)?.sharpness;
    let lowest =
        |curve: &[[f64; 3]], at: f64| crate::documents::on_curve(curve.len(), |i| curve[i], at).map(|(r, _)| r);
    let first = ways.values().find(|way| !way.curve.is_empty())?;
    let at = |f: f64| ways.values().filter_map(|way| lowest(&way.curve, f)).fold(f64::INFINITY, f64::min);
    Some(first.curve.iter().map(|p| (p[0], at(p[0]))).collect())
}

/// The zone in which an edge lies.
fn zone_of(scanned: &Scanned, trace: &[[f64; 2]]) -> Option<&'static str> {
    let (width, height) = (f64::from(scanned.scan.width?), f64::from(scanned.scan.height?));
    let n = trace.len() as f64;
    let mean = |axis: usize| trace.iter().map(|p| p[axis]).sum::<f64>() / n;
    let away = (mean(0) - width / 2.0).hypot(mean(1) - height / 2.0) / (width.hypot(height) / 2.0);
    ZONES.into_iter().find(|(_, end)| away <= *end).map(|(zone, _)| zone)
}

/// The chapter with every figure, scan by scan; evidence leads here.
pub fn figures(m: &Material) -> Section {
    let mut section = Section::new("figures", "The figures");
    let pooled = pooled(m);
    if !pooled.rows.is_empty() {
        section = section.with(Item::Table(pooled));
    }
    for scanned in &m.scans {
        section = of_scan(m, scanned, section);
    }
    if m.scans.is_empty() { section.text("There is no scan, and so there are no figures.") } else { section }
}

/// What the verdict pooled of each set-up.
fn pooled(m: &Material) -> Table {
    let mut table = Table::of(
        "Of each set-up, pooled over its frames, on the subject.",
        &[("Set-up", 3.0), ("Figure", 3.2), ("Place", 1.4), ("*Value", 1.8), ("Basis", 1.0)],
    );
    for set_up in &m.verdict.set_ups {
        for figure in &set_up.figures {
            let value = fmt::measured(figure.figure.value, Some(figure.figure.plus_minus));
            table.rows.push(vec![
                set_up.name.clone(),
                figure.what.clone(),
                if figure.place.is_empty() { "whole frame".into() } else { figure.place.clone() },
                if figure.bound.is_empty() {
                    value
                } else {
                    format!("{} {}", figure.bound, fmt::figure(figure.figure.value, 3))
                },
                figure.basis.clone(),
            ]);
        }
    }
    table
}

fn of_scan(m: &Material, scanned: &Scanned, section: Section) -> Section {
    let scan = &scanned.scan;
    let frame = scanned.frame.as_ref().map_or("of no frame".into(), |frame| {
        let set_up = m.set_ups.iter().find(|s| s.frames.iter().any(|place| m.frames[*place].id == frame.id));
        format!("frame {}, {}", frame.number, set_up.map_or("", |s| s.name.as_str()))
    });
    let mut facts = vec![("Shows".to_owned(), frame)];
    let mut add = |name: &str, value: String| facts.push((name.to_owned(), value));
    if let (Some(width), Some(height)) = (scan.width, scan.height) {
        let pitch =
            scan.pitch_um.map_or("pitch not known".into(), |um| format!("{} µm a pixel on film", fmt::figure(um, 4)));
        add("Scan", format!("{width} × {height} pixels, {pitch}"));
    }
    match scan.magnification {
        Some(size) => add(
            "Magnification",
            format!(
                "{} ({}), by {}",
                fmt::measured(size.value, size.plus_minus),
                fmt::ratio(size.value),
                source(size.from)
            ),
        ),
        None => add("Magnification", "not known".into()),
    }
    if let Some(whole) = &scanned.whole {
        whole_facts(whole, &mut add);
    }
    let heading = Item::Heading { id: format!("scan-{}", scan.id), text: scan.file_name.clone() };
    let mut section = section.with(heading).with(Item::Facts(facts));
    let edges = edge_table(scanned);
    if !edges.rows.is_empty() {
        section = section.with(Item::Table(edges));
    }
    if let Some(whole) = &scanned.whole {
        section = whole_tables(whole, section);
    }
    if scanned.measurements.is_empty() { section.text("Nothing was measured in it.") } else { section }
}

fn source(from: notebook::MagnificationSource) -> &'static str {
    match from {
        notebook::MagnificationSource::Ruler => "a ruler or the card in it",
        notebook::MagnificationSource::SetUp => "the set-up's figures",
        notebook::MagnificationSource::Entered => "what was entered",
    }
}

fn m(figure: Measured) -> String {
    fmt::measured(figure.value, Some(figure.plus_minus))
}

fn bounded(figure: &Bounded, unit: &str) -> String {
    let shown = fmt::measured_with(figure.value, figure.plus_minus, unit);
    if figure.bound.is_empty() { shown } else { format!("{} {shown}", figure.bound) }
}

/// Light, evenness, exposure, fringing, focus and grain of a whole frame.
fn whole_facts(whole: &FrameDocument, add: &mut impl FnMut(&str, String)) {
    for (channel, contrast) in &whole.contrast {
        add(
            &format!("White over black, {channel}"),
            format!(
                "{}; glare {}",
                bounded(&contrast.ratio, ""),
                bounded(
                    &Bounded {
                        value: contrast.glare.value * 100.0,
                        plus_minus: contrast.glare.plus_minus.map(|u| u * 100.0),
                        bound: contrast.glare.bound.clone()
                    },
                    "%"
                )
            ),
        );
    }
    if let Some(even) = &whole.evenness {
        add("Fall-off to the darkest corner", format!("{} stops", m(even.falloff_stops)));
    }
    if let Some(offset) = whole.exposure.as_ref().and_then(|e| e.offset_stops) {
        add("Greys against where they should be", format!("{} stops", m(offset)));
    }
    for (channel, fringing) in whole.fringing.iter().flat_map(|f| &f.channels) {
        if let Some(corner) = fringing.field.last() {
            add(
                &format!("Fringing in the corner, {channel} against green"),
                format!("{} µm outward on film", m(corner.radial_um)),
            );
        }
    }
    if let Some(grain) = &whole.grain {
        add("Grain", format!("density {}, standard deviation", m(grain.density)));
    }
    if let Some(align) = &whole.alignment {
        add(
            "Sharp surface against the card",
            format!("tilt {}° sideways, {}° up and down", m(align.about_upright_deg), m(align.about_level_deg)),
        );
    }
    add("Numbers into light by", whole.transfer.clone());
}

/// Half and a tenth of the contrast of each measured edge.
fn edge_table(scanned: &Scanned) -> Table {
    let mut table = Table::of(
        "Edges measured one by one: where half of the contrast is left.",
        &[
            ("Place", 2.0),
            ("Edge runs", 1.6),
            ("*On the subject, lp/mm", 1.8),
            ("*On film, lp/mm", 1.6),
            ("*Cycles/px", 1.6),
            ("*Contrast of its sides", 1.4),
        ],
    );
    for (label, edge, _) in &scanned.edges {
        let half = edge.main_channel().and_then(|c| Some((c.mtf50_cy_px?, c.mtf50_plus_minus)));
        let (subject, film, pixels) = match half {
            None => ("–".to_owned(), "–".to_owned(), "does not fall to one half".to_owned()),
            Some((f, u)) => {
                let film = scanned.scan.pitch_um.map(|um| 1000.0 / um);
                let subject = scanned.px_per_mm.map(|(px, unsure)| {
                    let value = f * px;
                    fmt::measured(value, u.map(|u| value * (u / f).hypot(unsure.unwrap_or(0.0) / px)))
                });
                let film = film.map(|k| fmt::measured(f * k, u.map(|u| u * k)));
                (subject.unwrap_or_else(|| "–".into()), film.unwrap_or_else(|| "–".into()), fmt::measured(f, u))
            }
        };
        let label = if label.is_empty() { "edge".to_owned() } else { label.clone() };
        table.rows.push(vec![
            label,
            edge.direction.replace('-', " "),
            subject,
            film,
            pixels,
            fmt::figure(edge.contrast, 3),
        ]);
    }
    table
}

/// Zones of a whole frame, its maps, and what could not be measured.
fn whole_tables(whole: &FrameDocument, mut section: Section) -> Section {
    let mut table = Table::of(
        "The whole frame by zones: where half of the contrast is left.",
        &[
            ("Zone", 1.4),
            ("Way", 1.6),
            ("*Edges", 0.7),
            ("*On the subject, lp/mm", 1.8),
            ("*On film, lp/mm", 1.6),
            ("*Corrected, on film", 1.6),
        ],
    );
    let cell = |figure: Option<Measured>| figure.map_or("–".into(), m);
    for zone in &whole.zones {
        for (way, s) in &zone.sharpness {
            table.rows.push(vec![
                zone.zone.clone(),
                way.clone(),
                s.edges.to_string(),
                cell(s.mtf50_subject_lp_mm),
                cell(s.mtf50_lp_mm),
                cell(s.corrected_mtf50_lp_mm),
            ]);
        }
    }
    if !table.rows.is_empty() {
        section = section.with(Item::Table(table));
    }
    let maps: Vec<Figure> =
        [sharpness_map(whole), whole.evenness.as_ref().and_then(evenness_map)].into_iter().flatten().collect();
    if !maps.is_empty() {
        section = section.with(Item::Figures(maps));
    }
    let left_out = whole.left_out_together();
    let section = left_out
        .iter()
        .fold(section, |section, out| section.note(sentence(&format!("Not measured: {}: {}", out.what, out.why))));
    whole.warnings.iter().fold(section, |section, warning| section.note(sentence(warning)))
}

/// Two maps fit side by side.
const MAP_MM: f64 = (WIDTH_MM - 3.0) / 2.0;

fn map_page(ratio: f64) -> (Page, [f64; 2]) {
    let size = [MAP_MM, MAP_MM * ratio];
    (Page::new(size), size)
}

/// Where in the frame half of the contrast is left, as figures at their places.
fn sharpness_map(whole: &FrameDocument) -> Option<Figure> {
    let [wide, high] = [whole.width_px, whole.height_px].map(f64::from);
    let (mut page, size) = map_page((high / wide).clamp(0.4, 2.0));
    let block = page.block(Role::Drawing(String::new()));
    block.frame([0.1, 0.1], [size[0] - 0.2, size[1] - 0.2], Pen::solid(0.3, Grey::BLACK));
    let style = Style::plain(7.0);
    let mut words = Vec::new();
    for place in &whole.places {
        let least = place
            .sharpness
            .values()
            .filter_map(|s| s.mtf50_subject_lp_mm.or(s.mtf50_lp_mm))
            .map(|f| f.value)
            .fold(f64::INFINITY, f64::min);
        if !least.is_finite() {
            continue;
        }
        let text = fmt::figure(least, 2);
        words.push(format!("{} {text}", place.name));
        let inset = |share: f64, length: f64| (share * length).clamp(5.0, length - 5.0);
        block.words_about([inset(place.at_px[0] / wide, size[0]), inset(place.at_px[1] / high, size[1])], &text, style);
    }
    let shapes = page.blocks.into_iter().flat_map(|block| block.shapes).collect();
    let words_all = format!("Line pairs per mm at which half of the contrast is left: {}.", words.join(", "));
    let caption = "Sharpness over the frame: lp/mm at half of the contrast, the weaker way.".to_owned();
    (!words.is_empty()).then_some(Figure { size_mm: size, words: words_all, caption, shapes })
}

/// The fitted fall-off as a grid of greys with figures.
fn evenness_map(even: &EvennessDocument) -> Option<Figure> {
    let (rows, columns) = (even.map_stops.len(), even.map_stops.first()?.len());
    let (mut page, size) = map_page((rows as f64 / columns as f64).clamp(0.4, 2.0));
    let block = page.block(Role::Drawing(String::new()));
    let cell = [size[0] / columns as f64, size[1] / rows as f64];
    let darkest = even.map_stops.iter().flatten().copied().fold(-0.1, f64::min);
    for (r, row) in even.map_stops.iter().enumerate() {
        for (c, stops) in row.iter().enumerate() {
            let grey = Grey((255.0 - 110.0 * (stops / darkest).clamp(0.0, 1.0)) as u8);
            let corner = [c as f64 * cell[0], r as f64 * cell[1]];
            block.rectangle(corner, cell, grey);
            if cell[0] > 7.0 && cell[1] > 4.0 {
                block.words_about(
                    [corner[0] + cell[0] / 2.0, corner[1] + cell[1] / 2.0],
                    &fmt::figure(*stops, 2),
                    Style::plain(6.0),
                );
            }
        }
    }
    block.frame([0.0, 0.0], size, Pen::solid(0.3, Grey::BLACK));
    let corners: Vec<String> = even.corners_stops.iter().map(|c| m(*c)).collect();
    let words = format!("Fall-off in stops against the middle; corners: {}.", corners.join(", "));
    let shapes = page.blocks.into_iter().flat_map(|block| block.shapes).collect();
    Some(Figure { size_mm: size, words, caption: "Evenness: stops against the brightest place.".into(), shapes })
}
