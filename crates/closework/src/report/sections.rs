//! The sections of a report that are words and tables.

use optics::Figure as Planned;

use super::material::{Material, SetUp};
use super::model::{Item, Section, Table};
use crate::documents::MADE_BY;
use crate::documents::verdict::{Evidence, RankedDocument, SentenceKind, UseStanding};
use crate::verdict::judged::{chance, figure_words};
use crate::verdict::money::sum_with;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::kit_book::{named_field, part_name};
use crate::web::manners::Units;

const MM: Units = Units::Millimetres;

/// What was asked.
pub fn question(m: &Material) -> Section {
    let job = &m.job;
    let mut facts = vec![("The subject".to_owned(), subject(job))];
    let mut add = |name: &str, value: String| facts.push((name.into(), value));
    add("In the frame", format!("{} of the shorter side", fmt::percent(job.fill)));
    add(
        "The print",
        format!(
            "{} on its long side, {} lp/mm still seen with {} of the contrast",
            fmt::stated_length(job.print_mm, MM),
            job.criterion_lp_mm,
            fmt::percent(job.contrast_needed)
        ),
    );
    if let Some(depth) = job.depth_wanted_mm {
        add("Of its depth, sharp", fmt::stated_length(depth, MM));
    }
    if let Some(room) = job.least_working_distance_mm {
        add("Room in front", format!("at least {}", fmt::stated_length(room, MM)));
    }
    if let Some(stops) = job.most_stops_lost {
        add("Light", format!("at most {stops} stops lost"));
    }
    let section = Section::new("question", "The question").text(m.verdict.question.clone()).with(Item::Facts(facts));
    let section = if job.notes.is_empty() { section } else { section.text(job.notes.clone()) };
    m.verdict.uses.iter().fold(section, |section, standing| {
        let section = section.with(limits(standing));
        if standing.reckoned.is_empty() { section } else { section.text(standing.reckoned.clone()) }
    })
}

fn subject(job: &notebook::Job) -> String {
    let mut words = vec![job.subject.clone(), format!("{} long", fmt::stated_length(job.subject_mm, MM))];
    words.extend(job.subject_short_mm.map(|mm| format!("{} across", fmt::stated_length(mm, MM))));
    words.extend(job.subject_depth_mm.map(|mm| format!("{} deep", fmt::stated_length(mm, MM))));
    words.retain(|word| !word.is_empty());
    words.join(", ")
}

fn limits(standing: &UseStanding) -> Item {
    let mut table = Table::of(
        format!("“{}” asks for, at {}:", standing.title, fmt::ratio(standing.magnification)),
        &[("What", 3.0), ("Why", 2.6), ("Source", 1.6)],
    );
    table.rows = standing
        .limits
        .iter()
        .map(|limit| vec![limit.words.clone(), limit.asked.reason.clone(), limit.asked.source.clone()])
        .collect();
    Item::Table(table)
}

/// What it came to: every sentence with a way to what it rests on.
pub fn answer(m: &Material) -> Section {
    let mut section = Section::new("verdict", "The verdict");
    if m.verdict.sentences.is_empty() {
        section = section.text("Nothing can be said yet; what is missing is named below.");
    }
    for said in &m.verdict.sentences {
        section = section.text(said.text.clone());
        if said.kind != SentenceKind::Sure {
            section = said.evidence.iter().filter_map(|evidence| link(m, evidence)).fold(section, Section::with);
        }
    }
    section = cheapest(m, section);
    for standing in &m.verdict.uses {
        section = ranked(m, standing, section);
    }
    for decision in &m.decisions {
        section = section.with(Item::Heading { id: String::new(), text: "Decided".into() }).text(format!(
            "{} ({})",
            decision.text,
            decision.created.get(..10).unwrap_or_default()
        ));
    }
    section
}

/// The cheapest kit with what it ties up.
fn cheapest(m: &Material, section: Section) -> Section {
    let Some(kit) = m.verdict.kit.as_ref().filter(|kit| !kit.parts.is_empty()) else { return section };
    let named = |id: &String| m.verdict.parts.iter().find(|part| part.id == *id).map(|part| part.name.clone());
    let name = |id: &String| named(id).unwrap_or_else(|| id.clone());
    let parts: Vec<String> = kit.parts.iter().map(name).collect();
    let open = m.verdict.uses.iter().any(|standing| standing.standing.as_deref() == Some("perhaps"));
    let may = if open { ", or may serve," } else { "" };
    let serves = if kit.unserved.is_empty() { "every use" } else { "what can be served" };
    let ties_up = match (kit.worth > 0.0, kit.unpriced.is_empty()) {
        (false, _) => String::new(),
        (true, priced) => format!(
            " It ties up {}{}.",
            sum_with(kit.worth, kit.worth_plus_minus, &m.verdict.money.currency),
            if priced { "" } else { ", besides what has no price" }
        ),
    };
    section.text(format!("The cheapest kit that still serves{may} {serves}: {}.{ties_up}", parts.join(", ")))
}

/// Evidence leads to its place in the report; what is shown in the program alone is left out.
fn link(m: &Material, evidence: &Evidence) -> Option<Item> {
    let words = format!("Rests on {}", evidence.words);
    let number = |prefix: &str| {
        let rest = evidence.page.strip_prefix(prefix)?;
        rest.split(['/', '#', '?']).next()?.parse::<i64>().ok()
    };
    let scan = number("/scans/").filter(|id| m.scans.iter().any(|s| s.scan.id.0 == *id));
    let to = match scan {
        Some(id) => format!("#scan-{id}"),
        None if evidence.page.starts_with("/frames") => "#frames".into(),
        None if evidence.page.starts_with("/trials") => "#trials".into(),
        None if evidence.page.starts_with("/set-up") => "#planned".into(),
        None => return None,
    };
    Some(Item::Link { text: words, to })
}

fn ranked(m: &Material, standing: &UseStanding, section: Section) -> Section {
    let mut table = Table::of(
        format!("Set-ups for “{}”, best first", standing.title),
        &[("Set-up", 3.0), ("Answer", 1.2), ("*Chance", 1.0), ("Figures that decide", 4.0)],
    );
    table.rows = standing.ranked.iter().map(|ranked| ranked_row(m, standing, ranked)).collect();
    if table.rows.is_empty() { section } else { section.with(Item::Table(table)) }
}

fn ranked_row(m: &Material, standing: &UseStanding, ranked: &RankedDocument) -> Vec<String> {
    let name = m.verdict.set_ups.iter().find(|set_up| set_up.id == ranked.set_up).map_or("", |set_up| &set_up.name);
    let findings = ranked.findings.iter().filter_map(|finding| {
        let limit = standing.limits.get(finding.limit)?;
        Some(format!("{} ({})", figure_words(limit, finding), finding.basis))
    });
    let missing = ranked.missing.iter().map(|missing| missing.why.clone());
    let words: Vec<String> = findings.chain(missing).collect();
    vec![name.into(), ranked.answer.clone(), chance(ranked.probability), words.join("; ")]
}

/// What is not there, and what to do about it.
pub fn lacking(m: &Material) -> Option<Section> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut add = |what: &str, next: &str| rows.push(vec![what.to_owned(), next.to_owned()]);
    if m.frames.is_empty() {
        add("No frame was planned or taken.", "Plan a test roll for the job, or enter its frames.");
    }
    if m.scans.is_empty() {
        add("No scan belongs to the job.", "Load the scans, and say which frame each shows.");
    } else if m.scans.iter().all(|s| s.measurements.is_empty()) {
        add("Nothing was measured in its scans.", "Measure the printed card, or an edge and a ruler, in each scan.");
    }
    for scanned in m.scans.iter().filter(|s| s.px_per_mm.is_none()) {
        let what = format!("The size of {} on the subject is not known.", scanned.scan.file_name);
        add(&what, "Measure a ruler in it, or enter its pitch and magnification.");
    }
    if m.hidden > 0 {
        add(
            &format!("{} still hidden.", fmt::count(m.hidden, "trial's names are", "trials' names are")),
            "End the trials; until then a report that named them would spoil them.",
        );
    }
    for silent in &m.verdict.silent {
        add(&sentence(&format!("{}: {}", silent.what, silent.why)), &sentence(&silent.next));
    }
    if rows.is_empty() {
        return None;
    }
    let table = Table { rows, ..Table::of("", &[("What is missing", 3.0), ("What to do", 3.0)]) };
    Some(Section::new("lacking", "What this report lacks").with(Item::Table(table)))
}

/// The parts that were used, with their figures.
pub fn kit(m: &Material) -> Section {
    let section = Section::new("kit", "The kit");
    let mut ids: Vec<&str> = Vec::new();
    let named = m.frames.iter().flat_map(|frame| &frame.parts).chain(m.verdict.set_ups.iter().flat_map(|s| &s.parts));
    for word in named {
        let id = word.split('=').next().unwrap_or(word);
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    let mut table = Table::of(
        "Figures as stated or calibrated, ± the half-width of the 95 % interval; “usual” where nothing better was stated.",
        &[("Part", 2.4), ("Figure", 2.2), ("*Value", 2.0), ("Doubt", 1.0)],
    );
    for part in ids.iter().filter_map(|id| m.kit.part(id)) {
        table.rows.extend(part_rows(part));
    }
    let gone: Vec<&str> = ids.iter().filter(|id| m.kit.part(id).is_none() && **id != "free").copied().collect();
    let section = match table.rows.is_empty() {
        true => section.text("No part of the kit was used in a frame of this job."),
        false => section.with(Item::Table(table)),
    };
    match gone.is_empty() {
        true => section,
        false => section.text(format!("No longer in the kit: {}.", gone.join(", "))),
    }
}

fn part_rows(part: &kit::Part) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    for field in part.kind().fields().filter(|field| !matches!(field.name, "price" | "thumbnail")) {
        let quantities = match part.value(field.name) {
            Some(kit::Value::Number(quantity)) => vec![*quantity],
            Some(kit::Value::Numbers(list)) => list.clone(),
            _ => continue,
        };
        let inputs: Vec<_> = quantities.iter().map(|quantity| field.input(*quantity)).collect();
        let times = field.unit == "s";
        let value = inputs.iter().map(|input| match (times, input.plus_minus == 0.0) {
            (true, _) => fmt::shutter(input.value),
            (false, true) => input.value.to_string(),
            (false, false) => fmt::measured(input.value, Some(input.plus_minus)),
        });
        let value: Vec<String> = value.collect();
        let unit = if field.unit.is_empty() || times { String::new() } else { format!(" {}", field.unit) };
        let stated = quantities.iter().all(|quantity| quantity.plus_minus.is_some());
        let exact = inputs.iter().all(|input| input.plus_minus == 0.0);
        let name =
            if rows.is_empty() { format!("{}: {}", part.kind().spec().label, part.name()) } else { String::new() };
        let doubt = if exact {
            "–"
        } else if stated {
            "stated"
        } else {
            "usual"
        };
        rows.push(vec![name, field.label.into(), value.join(", ") + &unit, doubt.into()]);
    }
    rows
}

/// What the kit's data say of each set-up.
pub fn planned(m: &Material) -> Section {
    let section = Section::new("planned", "The set-ups as planned");
    let mut table = Table::of(
        "What the kit's figures give, ± the half-width of the 95 % interval. Lengths in mm, light lost in stops, Airy disc in µm on film.",
        &[
            ("Set-up", 3.2),
            ("*Magnification", 1.5),
            ("*Room in front", 1.4),
            ("*Light lost", 1.2),
            ("*Eff. f-number", 1.3),
            ("*Depth", 1.3),
            ("*Airy disc", 1.1),
        ],
    );
    let mut notes = Vec::new();
    for set_up in &m.set_ups {
        match &set_up.planned {
            Ok(report) => {
                table.rows.push(planned_row(set_up, report));
                notes.extend(report.warnings.iter().map(|warning| format!("{}: {warning}", set_up.name)));
                if !report.assumed.is_empty() {
                    let assumed = report.assumed.iter().map(|field| {
                        let (part, label) = named_field(&m.kit, field);
                        format!("{label} ({})", part_name(&m.kit, part))
                    });
                    notes.push(format!("{}: assumed {}", set_up.name, assumed.collect::<Vec<_>>().join(", ")));
                }
            }
            Err(why) => notes.push(format!("{} cannot be worked out: {why}", set_up.name)),
        }
    }
    notes.sort();
    notes.dedup();
    let section = match table.rows.is_empty() {
        true => section.text("There is no set-up to work out."),
        false => section.with(Item::Table(table)),
    };
    notes.iter().fold(section, |section, note| section.note(sentence(note)))
}

fn planned_row(set_up: &SetUp, report: &kit::Report) -> Vec<String> {
    let figure = |figure: Planned| {
        let found = report.figures.get(figure);
        found.map_or("infinite".into(), |e| fmt::measured(e.value, e.half_width()))
    };
    let columns = [
        Planned::Magnification,
        Planned::WorkingDistance,
        Planned::ExposureStops,
        Planned::EffectiveFNumber,
        Planned::DepthOfField,
        Planned::AiryDiameter,
    ];
    std::iter::once(set_up.name.clone()).chain(columns.map(figure)).collect()
}

/// The frames as they were logged.
pub fn frames(m: &Material) -> Section {
    let mut section = Section::new("frames", "The frames as logged");
    if m.frames.is_empty() {
        return section.text("None was logged.");
    }
    for roll in &m.rolls {
        let mut table = Table::of(
            roll_words(roll),
            &[
                ("*No.", 0.5),
                ("What is on it", 2.4),
                ("Set-up", 3.0),
                ("Focus", 1.2),
                ("*Shutter", 1.0),
                ("*Metered", 1.0),
                ("As planned?", 2.2),
            ],
        );
        let on_it = m.frames.iter().filter(|frame| frame.roll == roll.id);
        table.rows = on_it.map(|frame| frame_row(m, frame)).collect();
        if !table.rows.is_empty() {
            section = section.with(Item::Table(table));
        }
    }
    section
}

fn roll_words(roll: &notebook::Roll) -> String {
    let mut words = vec![roll.title.clone(), roll.film.clone()];
    words.extend(roll.iso.map(|iso| format!("exposed at ISO {iso}")));
    words.retain(|word| !word.is_empty());
    words.join(", ")
}

fn frame_row(m: &Material, frame: &notebook::Frame) -> Vec<String> {
    let name =
        m.set_ups.iter().find(|s| s.parts == frame.parts && s.focus == frame.focus && s.f_number == frame.f_number);
    let time = |seconds: Option<f64>| seconds.map_or("–".into(), fmt::shutter);
    vec![
        frame.number.to_string(),
        frame.label.clone(),
        name.map(|s| s.name.clone()).unwrap_or_default(),
        frame.focus.replace("travel=", "travel, mm: "),
        time(frame.shutter_s),
        time(frame.metered_s),
        as_planned(frame),
    ]
}

fn as_planned(frame: &notebook::Frame) -> String {
    use notebook::FrameState;
    let note = if frame.note.is_empty() { String::new() } else { format!("; {}", frame.note) };
    let Some(plan) = &frame.planned else {
        let word = match frame.state {
            FrameState::Planned => "planned, not taken",
            FrameState::Shot => "taken as entered",
            FrameState::LeftOut => "left out on purpose",
        };
        return format!("{word}{note}");
    };
    let mut off = Vec::new();
    if plan.parts != frame.parts {
        off.push(format!("planned with {}", plan.parts.join(" + ")));
    }
    if plan.focus != frame.focus {
        off.push(format!("planned focus {}", plan.focus));
    }
    if plan.f_number != frame.f_number {
        off.push(plan.f_number.map_or("no f-number planned".into(), |f| format!("planned f/{f}")));
    }
    if plan.shutter_s != frame.shutter_s {
        off.push(plan.shutter_s.map_or("no time planned".into(), |s| format!("planned {}", fmt::shutter(s))));
    }
    let off = if off.is_empty() { "not as planned".into() } else { off.join(", ") };
    format!("{off}{note}")
}

/// What can hurt.
pub fn cautions() -> Section {
    let lines = [
        "Hot lamps burn skin and specimens and crack glass: let them cool, keep their maker's distances.",
        "No flash near eyes, nor through a finder at an open eye.",
        "Never the sun through a lens onto an eye, a hand, a specimen or a shutter.",
        "Blades and steel rules on the target cut: stick them down with the edge away from the hand.",
        "Developers, fixers and mounting fluids by their makers' sheets: gloves, fresh air, nothing near food.",
    ];
    let section = Section::new("cautions", "Cautions").text("Local rules and the makers' instructions come first.");
    lines.into_iter().fold(section, |section, line| section.with(Item::Caution(line.into())))
}

/// How things were measured and worked out, with the published methods by name.
pub fn method() -> Section {
    let lines = [
        (
            "Set-ups",
            "Every part is a ray-transfer matrix (Gaussian optics); light lost, depth and diffraction follow from the train of parts and from every aperture imaged to the film. The doubt of every stated figure is carried through by the law of propagation (JCGM 100:2008), checked by simulation (JCGM 101:2008) where first order may fail.",
        ),
        (
            "Sharpness",
            "Slanted edges, after the edge-based method of ISO 12233: the edge is found, every sample is put at its true distance from it, the profile is differentiated and transformed. Figures are of lens, film and scanner together unless they are called corrected. Resolution is given on the subject, so that frames of different size compare.",
        ),
        (
            "Size",
            "By the marks of a ruler or of the printed card in the picture; pitch of the scan as the file states it or as it was entered.",
        ),
        (
            "Colour fringing",
            "Displacement of red and blue edges against green, after ISO 19084, parted into along and across the radius.",
        ),
        ("Contrast and glare", "Light of a black trap against the white beside it, in the manner of ISO 9358."),
        ("Evenness", "A smooth surface through the blank ground, in the manner of ISO 17957."),
        (
            "The verdict",
            "A set-up serves a use when the chance that it meets all its limits is 95 % or more, at the weakest place of the frame; it falls short at 5 % or less.",
        ),
        (
            "Blind trials",
            "Pairs in random order and place, names hidden. Davidson's model for pairs with ties (Journal of the American Statistical Association 65 (1970), 317-328), intervals by profile likelihood, a stopping rule that may be looked at after every pick (Robbins, Annals of Mathematical Statistics 41 (1970), 1397-1409).",
        ),
        ("Intervals", "“±” is the half-width of the 95 % interval everywhere."),
    ];
    let facts = lines.map(|(name, words)| (name.to_owned(), words.to_owned()));
    Section::new("method", "The method")
        .text("What another person needs in order to do it again:")
        .with(Item::Facts(facts.into()))
}

/// With which settings, by which version, when.
pub fn settings(m: &Material) -> Section {
    let mut table = Table::of(
        "Every measurement that is kept of the job's scans.",
        &[("Scan", 2.0), ("What", 1.4), ("Taken", 1.4), ("Made by", 1.5), ("Settings", 4.0)],
    );
    for scanned in &m.scans {
        for kept in &scanned.measurements {
            let what = match kept.kind {
                notebook::MeasurementKind::Edge => "edge",
                notebook::MeasurementKind::Scale => "ruler",
                notebook::MeasurementKind::Frame => "whole frame",
            };
            let what = if kept.label.is_empty() { what.to_owned() } else { format!("{what}, {}", kept.label) };
            let made_by = if kept.made_by.is_empty() { "not written down" } else { &kept.made_by };
            table.rows.push(vec![
                scanned.scan.file_name.clone(),
                what,
                kept.created.get(..16).unwrap_or(&kept.created).replace('T', " "),
                made_by.into(),
                shortened(&kept.settings),
            ]);
        }
    }
    let section = Section::new("settings", "Settings and versions").text(format!(
        "This report was made by {MADE_BY}. The verdict was made by {}, a chance of {} counting as sure, {} worlds drawn with seed {}.",
        m.verdict.made_by,
        fmt::percent(m.verdict.settings.sure),
        m.verdict.settings.worlds,
        m.verdict.settings.seed
    ));
    match table.rows.is_empty() {
        true => section.text("No measurement is kept of this job's scans."),
        false => section.with(Item::Table(table)).note("Settings in full are in the JSON file beside this report."),
    }
}

/// Settings as they are read: names and values without the marks of JSON, no longer than a cell bears.
fn shortened(settings: &str) -> String {
    let plain: String = settings.chars().filter(|c| !"{}\"".contains(*c)).collect();
    let spaced = plain.replace(',', ", ").replace(':', ": ");
    match spaced.char_indices().nth(160) {
        Some((end, _)) => format!("{}…", &spaced[..end]),
        None => spaced,
    }
}
