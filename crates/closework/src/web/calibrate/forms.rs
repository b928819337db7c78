//! What there is to calibrate from, with its ticks, and the forms for what was measured elsewhere.

use kit::{Kind, Part};
use maud::{Markup, html};
use optics::Input;

use super::kept::hand_name;
use super::page::Around;
use super::seen::Seen;
use crate::calibrating::{At, CloseUpEntry, FrameEntry, PupilEntry, Reading};
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::form::{Field, Filled};

/// Every usable entry's name among the ticks.
pub(super) fn names(around: &Around) -> Vec<String> {
    let usable = |name: &String, tells: bool| tells.then(|| name.clone());
    let frames = around.frames.iter().filter_map(|seen| usable(&seen.name, seen.tells.is_ok()));
    let pairs = around.pairs.iter().filter_map(|seen| usable(&seen.name, seen.tells.is_ok()));
    let given = &around.kept.given;
    let typed = given.frames.iter().map(|frame| &frame.label).chain(given.close_ups.iter().map(|pair| &pair.label));
    frames.chain(pairs).chain(typed.map(|label| hand_name(label))).collect()
}

fn figure(input: Input) -> String {
    fmt::measured(input.value, Some(input.plus_minus))
}

/// "infinity", "closest", "3.5 mm forward".
fn focus(at: &At) -> String {
    match at {
        At::Travel(travel) => format!("{} mm forward", travel.value),
        other => other.to_string(),
    }
}

/// One line of the table of entries.
struct Row<'a> {
    name: String,
    label: &'a str,
    link: Option<String>,
    set_up: String,
    reads: String,
    /// Why it tells nothing.
    why: Option<&'a str>,
    /// What takes it away, for one entered by hand.
    drop: Option<String>,
}

fn seen_row<'a, T>(seen: &'a Seen<T>, reads: impl Fn(&T) -> String) -> Row<'a> {
    let link = match seen.scan {
        Some(scan) => format!("/scans/{scan}"),
        None => format!("/jobs/{}", seen.job),
    };
    Row {
        name: seen.name.clone(),
        label: &seen.label,
        link: Some(link),
        set_up: seen.set_up.clone(),
        reads: seen.tells.as_ref().map(reads).unwrap_or_default(),
        why: seen.tells.as_ref().err().map(String::as_str),
        drop: None,
    }
}

fn frame_reads(frame: &FrameEntry) -> String {
    let far = frame.subject_to_film_mm.map(|mm| format!(", {} mm from the film", mm.value)).unwrap_or_default();
    figure(frame.reading.magnification()) + &far
}

fn pair_reads(pair: &CloseUpEntry) -> String {
    let m = |reading: &Reading| figure(reading.magnification());
    match &pair.without {
        None => format!("{} with it", m(&pair.with)),
        Some(without) => format!("{} without, {} with it", m(without), m(&pair.with)),
    }
}

fn rows(around: &Around) -> Vec<Row<'_>> {
    let given = &around.kept.given;
    let frames = given.frames.iter().map(|frame| Row {
        name: hand_name(&frame.label),
        label: &frame.label,
        link: None,
        set_up: format!("{}, {}", frame.parts.join(", "), focus(&frame.at)),
        reads: frame_reads(frame),
        why: None,
        drop: Some(format!("frame {}", frame.label)),
    });
    let pairs = given.close_ups.iter().map(|pair| Row {
        name: hand_name(&pair.label),
        label: &pair.label,
        link: None,
        set_up: format!("{}, {}", pair.lens, focus(&pair.at)),
        reads: pair_reads(pair),
        why: None,
        drop: Some(format!("pair {}", pair.label)),
    });
    let seen = around.frames.iter().map(|seen| seen_row(seen, frame_reads));
    let seen_pairs = around.pairs.iter().map(|seen| seen_row(seen, pair_reads));
    seen.chain(seen_pairs).chain(frames).chain(pairs).collect()
}

/// The entries with their ticks and how they are fitted.
pub(super) fn entries(around: &Around) -> Markup {
    let rows = rows(around);
    let given = &around.kept.given;
    let what = if around.is_lens() { "Frames of a ruler" } else { "Frames without and with it" };
    html! {
        section aria-labelledby="entries" {
            h2 id="entries" { (what) }
            @if rows.is_empty() {
                p.soft { "The notebook has no frame with this part yet, and none was entered by hand." }
            } @else {
                form method="post" action=(around.address("/choose")) {
                    table.stacked {
                        thead { tr { th scope="col" { "Frame" } th scope="col" { "Set-up" } th.n scope="col" { "Magnification" } } }
                        tbody { @for row in &rows { (line(around, row)) } }
                    }
                    @if around.is_lens() {
                        div.fields {
                            (tick("fit_infinity_mark", "The infinity mark may be off", "Fits how far the lens stands from true infinity at its mark, too.", given.fit_infinity_mark))
                            (tick("use_outliers", "Keep frames that the others contradict", "They are named either way.", given.use_outliers))
                        }
                    }
                    div.actions { button { "Calibrate from those ticked" } a href=(around.address("/file")) download="calibrating.toml" { "Take them out as a file for the command line" } }
                }
            }
            @for row in rows.iter().filter(|row| row.drop.is_some()) { (drop_form(around, row)) }
            @if !given.pupils.is_empty() { (pupils(around)) }
        }
    }
}

fn tick(name: &str, label: &str, hint: &str, on: bool) -> Markup {
    let mut filled = Filled::default();
    if on {
        filled.set(name, "on");
    }
    Field::tick(name, label).hint(hint).show(&filled)
}

fn line(around: &Around, row: &Row<'_>) -> Markup {
    let id = format!("take-{}", row.name.replace(|c: char| !c.is_ascii_alphanumeric(), "-"));
    html! {
        tr {
            th scope="row" {
                @if row.why.is_some() { (row.label) } @else {
                    div.field.tick { div.entry {
                        input type="checkbox" id=(id) name="take" value=(row.name) checked[around.kept.takes(&row.name)];
                        label for=(id) { (row.label) }
                    } }
                }
            }
            td data-label="Set-up" {
                (row.set_up)
                @if let Some(link) = &row.link { " " a href=(link) { @if link.starts_with("/scans") { "its scan" } @else { "its job" } } }
                @if let Some(why) = row.why { p.hint { "Not usable: " (why) "." } }
            }
            td.n data-label=[(!row.reads.is_empty()).then_some("Magnification")] { (row.reads) }
        }
    }
}

fn drop_form(around: &Around, row: &Row<'_>) -> Markup {
    html! {
        @if let Some(what) = &row.drop {
            form.inline method="post" action=(around.address("/drop")) {
                input type="hidden" name="what" value=(what);
                button.quiet { "Take " (row.label) " away" }
            }
        }
    }
}

fn pupils(around: &Around) -> Markup {
    let given = &around.kept.given;
    let scale =
        |pupil: &PupilEntry| pupil.px_per_mm.map_or("no scale".into(), |scale| format!("{} px/mm", scale.value));
    html! {
        h3 { "Photographs of the lens" }
        @if let Some(side) = around.pupil_wanting() {
            p.soft { "A photograph from the " (side.word()) " is still wanting; the pupil ratio needs one from each end." }
        }
        ul {
            @for pupil in &given.pupils {
                li {
                    (pupil.label) ": " (pupil.diameter_px.value) " px across, " (scale(pupil)) " "
                    form.inline method="post" action=(around.address("/drop")) {
                        input type="hidden" name="what" value=(format!("pupil {}", pupil.label));
                        button.quiet aria-label=(format!("Take {} away", pupil.label)) { "Take it away" }
                    }
                }
            }
        }
    }
}

/// The forms for what was measured elsewhere.
pub(super) fn by_hand(around: &Around, filled: &Filled) -> Markup {
    html! {
        section aria-labelledby="by-hand" {
            h2 id="by-hand" { "Measured elsewhere" }
            @if around.is_lens() {
                (frame_form(around, filled))
                (pupil_form(around, filled))
            } @else {
                (pair_form(around, filled))
            }
        }
    }
}

fn open(filled: &Filled, fields: &[&str]) -> bool {
    fields.iter().any(|field| filled.error(field).is_some())
}

const SHARED: &str = "Its own uncertainty (95 %) may follow: 0.614 ± 0.002. Without it ± 0.5 % is counted.";

fn focus_fields(filled: &Filled) -> Markup {
    let choices =
        [("infinity", "the infinity mark"), ("closest", "the closest mark"), ("travel", "in between, so far forward:")];
    html! {
        (Field::choice("focus", "Focused at", choices).show(filled))
        (Field::number("travel", "Forward of infinity").unit("mm").hint("Only when it stood in between.").show(filled))
    }
}

fn frame_form(around: &Around, filled: &Filled) -> Markup {
    let kit = &around.kit;
    let bodies = options(kit.of_kind(Kind::Body), false);
    let key = format!("calibrate-frame-{}", around.part.id());
    let fields = ["", "label", "tube", "draw", "travel", "magnification", "px_per_mm", "pitch_um", "subject_to_film"];
    let nothing_there = around.given().frames.is_empty();
    html! {
        details open[nothing_there || open(filled, &fields)] {
            summary { "A frame of a ruler" }
            @if bodies.is_empty() {
                p { "A frame needs a body. " a href="/kit/new/body" { "Put it in the drawer first" } "." }
            } @else {
                form method="post" action=(around.address("/frame")) data-keep=(key) {
                    div.fields {
                        (Field::text("label", "Name").hint("As on the film or in your notes; made when left blank.").show(filled))
                        (Field::choice("body", "Body", bodies).show(filled))
                    }
                    (ticks("tube", "Tubes between body and lens", kit.of_kind(Kind::Tube), filled))
                    @if kit.of_kind(Kind::Adapter).next().is_some() { (ticks("adapter", "Mount adapters", kit.of_kind(Kind::Adapter), filled)) }
                    div.fields {
                        @if kit.of_kind(Kind::Bellows).next().is_some() {
                            (Field::choice("bellows", "Bellows", options(kit.of_kind(Kind::Bellows), true)).show(filled))
                            (Field::number("draw", "Its draw").unit("mm").show(filled))
                        }
                        (focus_fields(filled))
                        (Field::number("magnification", "Magnification").hint(SHARED).show(filled))
                        (Field::number("px_per_mm", "Or pixels per mm of the ruler").unit("px").show(filled))
                        (Field::number("pitch_um", "with the scan's pitch").unit("µm").hint("25400 / dpi: 6.35 at 4000 dpi.").show(filled))
                        (Field::number("subject_to_film", "Ruler to film mark").unit("mm").hint("When it was measured: it tells the principal separation. ± 2 mm is counted without its own.").show(filled))
                    }
                    div.actions { button { "Add the frame" } }
                }
            }
        }
    }
}

/// Parts as choices, "none" first where that is one.
fn options<'a>(parts: impl Iterator<Item = &'a Part>, none: bool) -> Vec<(String, String)> {
    let first = none.then(|| (String::new(), "none".to_owned()));
    first.into_iter().chain(parts.map(|part| (part.id().to_owned(), part.name().to_owned()))).collect()
}

/// Parts of which several may be picked. An error of the set-up as a whole stands here.
fn ticks<'a>(name: &str, legend: &str, parts: impl Iterator<Item = &'a Part>, filled: &Filled) -> Markup {
    let error = filled.error(name);
    let described = error.map(|_| format!("field-{name}-error"));
    html! {
        fieldset.plain id=(format!("field-{name}")) tabindex=[error.map(|_| "-1")] aria-describedby=[described] {
            legend { (legend) }
            div.fields {
                @for part in parts {
                    @let id = format!("pick-{name}-{}", part.id());
                    div.field.tick { div.entry {
                        input type="checkbox" id=(id) name=(name) value=(part.id()) checked[filled.all(name).any(|picked| picked == part.id())];
                        label for=(id) { (part.name()) }
                    } }
                }
            }
            @if let Some(error) = error { div.field { p.error id=(format!("field-{name}-error")) { (error) } } }
        }
    }
}

fn pupil_form(around: &Around, filled: &Filled) -> Markup {
    let fields = ["diameter_px", "disc_px_per_mm", "camera_mm", "depth_mm"];
    html! {
        details open[open(filled, &fields)] {
            summary { "A photograph of the lens, for its pupils" }
            p.soft { "Stop the lens down, hold it before a bright wall, and photograph it from afar from the front and from the back. The bright disc is the pupil of that side; the larger the camera's distance the better." }
            form method="post" action=(around.address("/pupil")) data-keep=(format!("calibrate-pupil-{}", around.part.id())) {
                div.fields {
                    (Field::choice("side", "Seen from", [("front", "the front"), ("back", "the back")]).show(filled))
                    (Field::number("diameter_px", "Disc across").unit("px").hint("± 2 % is counted without its own.").required().show(filled))
                    (Field::number("disc_px_per_mm", "Scale beside the lens").unit("px/mm").hint("From a ruler in the picture. Left blank when one camera took all from one distance.").show(filled))
                    (Field::number("camera_mm", "Camera to ruler").unit("mm").show(filled))
                    (Field::number("depth_mm", "Disc behind the ruler").unit("mm").hint("How much farther from the camera it lies.").show(filled))
                }
                div.actions { button { "Add the photograph" } }
            }
        }
    }
}

fn pair_form(around: &Around, filled: &Filled) -> Markup {
    let lenses = options(around.kit.of_kind(Kind::Lens), false);
    let nothing_there = around.given().close_ups.is_empty();
    let fields = [
        "",
        "label",
        "lens",
        "travel",
        "magnification_without",
        "magnification_with",
        "px_per_mm_without",
        "px_per_mm_with",
        "pitch_um",
    ];
    html! {
        details open[nothing_there || open(filled, &fields)] {
            summary { "A pair without and with it" }
            @if lenses.is_empty() {
                p { "A pair needs a lens. " a href="/kit/new/lens" { "Put it in the drawer first" } "." }
            } @else {
                form method="post" action=(around.address("/pair")) data-keep=(format!("calibrate-pair-{}", around.part.id())) {
                    div.fields {
                        (Field::text("label", "Name").hint("Made when left blank.").show(filled))
                        (Field::choice("lens", "Screwed to", lenses).show(filled))
                        (focus_fields(filled))
                    }
                    @if around.kit.of_kind(Kind::StepRing).next().is_some() { (ticks("ring", "Rings in between", around.kit.of_kind(Kind::StepRing), filled)) }
                    div.fields {
                        (Field::number("magnification_without", "Magnification without it").hint("Blank at the infinity mark.").show(filled))
                        (Field::number("magnification_with", "Magnification with it").hint(SHARED).show(filled))
                        (Field::number("px_per_mm_without", "Or pixels per mm without it").unit("px").show(filled))
                        (Field::number("px_per_mm_with", "Or pixels per mm with it").unit("px").show(filled))
                        (Field::number("pitch_um", "with the scan's pitch").unit("µm").show(filled))
                    }
                    div.actions { button { "Add the pair" } }
                }
            }
        }
    }
}

/// Clauses as sentences in one frame, for remarks.
pub(super) fn remarks(clauses: &[String]) -> Markup {
    html! {
        @if !clauses.is_empty() {
            div.warning {
                @if let [one] = clauses { p { (sentence(one)) } } @else { ul { @for clause in clauses { li { (sentence(clause)) } } } }
            }
        }
    }
}
