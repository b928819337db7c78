//! A job in a form.

use axum::extract::{Path, State};
use axum::response::{Html, Redirect, Response};
use kit::{Kind, Kit};
use maud::html;
use notebook::{Job, JobDraft};

use super::found;
use crate::web::clock::now;
use crate::web::error::PageResult;
use crate::web::form::{Field, Filled, come_back, saved};
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError};

async fn kit_of(app: &App) -> Result<Kit, PageError> {
    app.notebook(|book| read_kit(book)).await
}

pub(super) async fn new(State(app): State<App>) -> PageResult {
    let usual = JobDraft::default();
    let filled = filled_from(&usual);
    Ok(show(&kit_of(&app).await?, None, &filled))
}

pub(super) async fn edit(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let job = found(&app, &id).await?;
    let filled = filled_from(&job.draft);
    Ok(show(&kit_of(&app).await?, Some(&job), &filled))
}

fn filled_from(draft: &JobDraft) -> Filled {
    let optional = |number: Option<f64>| number.map(|n| n.to_string()).unwrap_or_default();
    let pairs = [
        ("title", draft.title.clone()),
        ("subject", draft.subject.clone()),
        ("subject_mm", draft.subject_mm.to_string()),
        ("subject_short_mm", optional(draft.subject_short_mm)),
        ("subject_depth_mm", optional(draft.subject_depth_mm)),
        ("depth_wanted_mm", optional(draft.depth_wanted_mm)),
        ("fill", whole_percent(draft.fill)),
        ("body", draft.body.clone().unwrap_or_default()),
        ("print_mm", draft.print_mm.to_string()),
        ("criterion_lp_mm", draft.criterion_lp_mm.to_string()),
        ("contrast_needed", whole_percent(draft.contrast_needed)),
        ("least_working_distance_mm", optional(draft.least_working_distance_mm)),
        ("most_stops_lost", optional(draft.most_stops_lost)),
        ("largest_crop", whole_percent(draft.largest_crop)),
        ("notes", draft.notes.clone()),
    ];
    pairs.into_iter().collect()
}

/// 0.7 as "70", without the tail that a product of doubles may have.
fn whole_percent(share: f64) -> String {
    ((share * 1e6).round() / 1e4).to_string()
}

fn draft_from(filled: &mut Filled) -> Option<JobDraft> {
    let title = filled.required_text("title");
    let positive = |filled: &mut Filled, name: &str| {
        let number = filled.required_number(name);
        number.filter(|n| *n > 0.0).or_else(|| {
            filled.wrong(name, "A number above 0 is needed here.");
            None
        })
    };
    let subject_mm = positive(filled, "subject_mm");
    let print_mm = positive(filled, "print_mm");
    let criterion = positive(filled, "criterion_lp_mm");
    let fill = filled.number_within("fill", 1.0, 100.0, "%").or_else(|| needed(filled, "fill"));
    let contrast =
        filled.number_within("contrast_needed", 1.0, 100.0, "%").or_else(|| needed(filled, "contrast_needed"));
    let depth = filled.number_within("subject_depth_mm", 0.0, 1e4, "mm");
    let short = filled.number("subject_short_mm");
    if let Some(short) = short.filter(|short| *short <= 0.0) {
        filled.wrong(
            "subject_short_mm",
            format!("{short} mm is not above 0; leave it blank where only the longest side counts."),
        );
    }
    if let (Some(short), Some(long)) = (short, subject_mm)
        && short > long
    {
        filled.wrong("subject_short_mm", "The shorter side is longer than the longest; exchange the two.");
    }
    let sharp = filled.number_within("depth_wanted_mm", 0.0, 1e4, "mm");
    if let (Some(sharp), Some(deep)) = (sharp, depth)
        && sharp > deep
    {
        filled.wrong(
            "depth_wanted_mm",
            format!("{sharp} mm is more than the {deep} mm that it is deep; leave it blank to have all of it sharp."),
        );
    }
    let stops = filled.number_within("most_stops_lost", 0.0, 20.0, "stops");
    let crop = filled.number_within("largest_crop", 0.0, 95.0, "%").unwrap_or(0.0);
    let room = filled.number_within("least_working_distance_mm", 0.0, 1e5, "mm");
    if filled.has_errors() {
        return None;
    }
    Some(JobDraft {
        title,
        subject: filled.text("subject").to_owned(),
        subject_mm: subject_mm?,
        subject_short_mm: short,
        subject_depth_mm: depth,
        depth_wanted_mm: sharp,
        fill: fill? / 100.0,
        body: Some(filled.text("body").to_owned()).filter(|body| !body.is_empty()),
        print_mm: print_mm?,
        criterion_lp_mm: criterion?,
        contrast_needed: contrast? / 100.0,
        least_working_distance_mm: room,
        most_stops_lost: stops,
        largest_crop: crop / 100.0,
        notes: filled.text("notes").to_owned(),
    })
}

fn needed(filled: &mut Filled, name: &str) -> Option<f64> {
    filled.wrong(name, "A number from 1 to 100 is needed here.");
    None
}

pub(super) async fn add(State(app): State<App>, mut filled: Filled) -> Result<Response, PageError> {
    let Some(draft) = draft_from(&mut filled) else {
        return Ok(come_back(show(&kit_of(&app).await?, None, &filled)));
    };
    let id = app.notebook(move |book| book.add_job(&draft, false, &now())).await?;
    Ok(saved(&format!("/jobs/{id}"), "job-"))
}

pub(super) async fn update(
    State(app): State<App>,
    Path(id): Path<String>,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let Some(draft) = draft_from(&mut filled) else {
        return Ok(come_back(show(&kit_of(&app).await?, Some(&job), &filled)));
    };
    app.notebook(move |book| book.update_job(job.id, &draft)).await?;
    Ok(saved(&format!("/jobs/{id}"), &format!("job-{id}")))
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let job = found(&app, &id).await?;
    app.notebook(move |book| book.delete_job(job.id)).await?;
    Ok(Redirect::to("/jobs"))
}

/// The fields that can be wrong, by their labels (a script puts the label where it is missing), in the order of the page.
const NAMES: [(&str, &str); 12] = [
    ("title", "What the job is called"),
    ("subject_mm", "Its longest side"),
    ("subject_short_mm", "Its shorter side"),
    ("subject_depth_mm", "How deep it is along the line of sight"),
    ("depth_wanted_mm", "How much of that is to be sharp"),
    ("fill", "It fills of the frame's shorter side"),
    ("print_mm", "Long side of the print"),
    ("criterion_lp_mm", "Detail wanted on paper"),
    ("contrast_needed", "Contrast left in that detail"),
    ("least_working_distance_mm", "Room needed in front"),
    ("most_stops_lost", "Light that may be lost"),
    ("largest_crop", "May be cropped away of the sides"),
];

fn show(kit: &Kit, job: Option<&Job>, filled: &Filled) -> Html<String> {
    let title = job.map_or("A new job".to_owned(), |job| job.title.clone());
    let action = job.map_or("/jobs/new".to_owned(), |job| format!("/jobs/{}/edit", job.id));
    let back = job.map_or("/jobs".to_owned(), |job| format!("/jobs/{}", job.id));
    let bodies = kit.of_kind(Kind::Body).map(|body| (body.id().to_owned(), body.name().to_owned()));
    let bodies = std::iter::once((String::new(), "the kit's first".to_owned())).chain(bodies);
    let keep = job.map_or("job-".to_owned(), |job| format!("job-{}", job.id));
    let body = html! {
        (filled.summary_named(&NAMES))
        form method="post" action=(action) data-keep=(keep) {
            h2 { "The subject" }
            div.fields {
                (Field::text("title", "What the job is called").required().show(filled))
                (Field::text("subject", "What is photographed").hint("A stag beetle, seed pods, a quartz point.").show(filled))
                (Field::number("subject_mm", "Its longest side").unit("mm").required().show(filled))
                (Field::number("subject_short_mm", "Its shorter side").unit("mm").hint("Left blank, only the longest side counts.").show(filled))
                (Field::number("subject_depth_mm", "How deep it is along the line of sight").unit("mm").show(filled))
                (Field::number("depth_wanted_mm", "How much of that is to be sharp").unit("mm").hint("Left blank, all of it.").show(filled))
            }
            h2 { "The picture" }
            div.fields {
                (Field::choice("body", "On", bodies).show(filled))
                (Field::number("fill", "It fills of the frame's shorter side").unit("%").required().show(filled))
                (Field::number("print_mm", "Long side of the print").unit("mm").required().show(filled))
                (Field::number("criterion_lp_mm", "Detail wanted on paper").unit("lp/mm").hint("5 is what a good eye tells apart at reading distance.").required().show(filled))
                (Field::number("contrast_needed", "Contrast left in that detail").unit("%").hint("20 % and more looks sharp.").required().show(filled))
                (Field::number("least_working_distance_mm", "Room needed in front").unit("mm").hint("For lamps, a diffuser, the hand.").show(filled))
                (Field::number("most_stops_lost", "Light that may be lost").unit("stops").hint("Left blank, any.").show(filled))
                (Field::number("largest_crop", "May be cropped away of the sides").unit("%").show(filled))
            }
            (Field::area("notes", "Notes").show(filled))
            div.actions { button.main { "Save the job" } a href=(back) { "Back" } }
        }
        @if let Some(job) = job {
            form method="post" action=(format!("/jobs/{}/delete", job.id)) {
                button.quiet data-sure="Delete it with its rolls and frames?" { "Delete the job" }
                p.hint { "Its scans stay." }
            }
        }
    };
    Sheet::new(&title, Place::Jobs).show(body)
}
