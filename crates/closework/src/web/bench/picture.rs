//! A predicted frame on a page: drawn in the background, kept, shown whole and at three places pixel for pixel.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::ControlFlow;
use std::path::PathBuf;

use axum::extract::{Path, RawQuery, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};
use imaging::pyramid::PieceLight;
use imaging::{Scan, ToneChoice};
use maud::{Markup, html};
use planes::Channels;

use super::shown;
use crate::bench::{Picture, Subject, label, stand_in, write};
use crate::pieces::FramePlace;
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled};
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::setup::{Picked, computed};
use crate::web::tasks::{Standing, Task};
use crate::web::{App, PageError, off_thread};

/// So many frames are kept; the oldest gives way, and can be drawn again.
const KEPT: usize = 12;
/// The longer side of the whole frame as shown, and the side of a place, in pixels.
const WHOLE_PX: u32 = 1100;
const PIECE_PX: u32 = 400;
const QUALITY: u8 = 88;
/// Places that are shown pixel for pixel.
const PIECES: [(&str, &str); 3] =
    [("centre", "The centre"), ("half-top-right", "Half-way"), ("top-right", "The corner")];

struct Asked {
    picked: Picked,
    name: String,
    subject: Subject,
    /// With what stands beside it.
    picture: Result<(Picture, String), String>,
}

impl Asked {
    async fn read(app: &App, mut query: Filled) -> Result<Self, PageError> {
        let kit = app.notebook(|book| read_kit(book)).await?;
        let picked = Picked::read(&mut query, &kit);
        let subject = Subject::of(query.text("subject")).unwrap_or(Subject::Beetle);
        let picture = match computed(&kit, &picked) {
            Err(why) => Err(why.to_string()),
            Ok((setup, _)) => stand_in(&setup)
                .map(|(set_up, design)| {
                    let label = label(&design, &set_up);
                    (Picture { set_up, frame_mm: setup.numbers().frame, subject }, label)
                })
                .map_err(|why| why.to_string()),
        };
        Ok(Self { name: set_up_name(&kit, &picked.parts), picked, subject, picture })
    }

    fn query(&self) -> String {
        format!("{}&subject={}", self.picked.query(), self.subject.word())
    }
}

/// Its name in the folder: the same glass asked for the same is the same frame.
fn name_of(picture: &Picture) -> String {
    let mut hasher = DefaultHasher::new();
    format!("{picture:?}").hash(&mut hasher);
    format!("{:016x}", hasher.finish())
}

fn file_of(app: &App, name: &str) -> PathBuf {
    app.predicted_folder().join(format!("{name}.tif"))
}

fn about(name: &str) -> String {
    format!("bench/picture/{name}")
}

/// The door to it from a set-up's page.
pub(super) fn door(picked: &Picked) -> Markup {
    html! {
        h2 { "A predicted frame" }
        p { "What this set-up would make of a subject, drawn through its rays with the blur of a fine-grained film and its scan: to be seen before anything is bought or exposed." }
        form method="post" action="/bench/picture" { (fields(picked, Subject::Beetle)) div.actions { button { "Draw it" } } }
    }
}

fn fields(picked: &Picked, subject: Subject) -> Markup {
    let filled: Filled = [("subject", subject.word())].into_iter().collect();
    html! {
        input type="hidden" name="parts" value=(picked.parts.join(","));
        input type="hidden" name="focus" value=(picked.focus);
        @if let Some(f) = picked.f_number { input type="hidden" name="f" value=(f); }
        div.fields { (Field::choice("subject", "In front of the lens", Subject::ALL.map(|s| (s.word(), s.name()))).show(&filled)) }
    }
}

pub(super) async fn begin(State(app): State<App>, filled: Filled) -> Result<Redirect, PageError> {
    let asked = Asked::read(&app, filled).await?;
    let to = format!("/bench/picture?{}", asked.query());
    let Ok((picture, _)) = asked.picture else { return Ok(Redirect::to(&to)) };
    let name = name_of(&picture);
    let running = app.tasks().about(&about(&name)).is_some_and(|task| task.standing == Standing::Running);
    if !running && !file_of(&app, &name).exists() {
        let task = app.tasks().start("Drawing the predicted frame", about(&name));
        std::thread::spawn(move || run(&app, &picture, &name, task));
    }
    Ok(Redirect::to(&to))
}

fn run(app: &App, picture: &Picture, name: &str, task: Task) {
    let _turn = app.turn();
    let folder = app.predicted_folder();
    if let Err(why) = std::fs::create_dir_all(&folder) {
        return task.end(Standing::Failed(format!("The folder {} cannot be made ({why}).", folder.display())));
    }
    let drawn = write(picture, &file_of(app, name), &mut |share| {
        task.reached(share);
        if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    task.end(match drawn {
        Ok(ControlFlow::Continue(())) => {
            make_room(app);
            Standing::Done
        }
        Ok(ControlFlow::Break(())) => Standing::Stopped,
        Err(why) => Standing::Failed(sentence(&why.to_string())),
    });
}

/// Takes the oldest frames away, beyond so many.
fn make_room(app: &App) {
    let Ok(entries) = std::fs::read_dir(app.predicted_folder()) else { return };
    let mut files: Vec<_> = entries
        .flatten()
        .filter(|entry| entry.path().file_stem().and_then(|stem| stem.to_str()).is_some_and(is_name))
        .filter_map(|entry| Some((entry.metadata().ok()?.modified().ok()?, entry.path())))
        .collect();
    files.sort();
    for (_, path) in files.iter().take(files.len().saturating_sub(KEPT)) {
        // What cannot be taken away takes room and harms nothing.
        let _ = std::fs::remove_file(path);
    }
}

/// Only names that [`name_of`] makes are ever opened or taken away.
fn is_name(name: &str) -> bool {
    name.len() == 16 && name.bytes().all(|byte| byte.is_ascii_hexdigit())
}

pub(super) async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let asked = Asked::read(&app, Filled::from_query(query.as_deref())).await?;
    let body = html! {
        p { strong { (asked.name) } @if let Some(f) = asked.picked.f_number { ", f/" (f) } ", " (asked.subject.name()) ". " a href=(super::address_of(&asked.picked)) { "Its curves and figures" } "." }
        @match &asked.picture { Err(why) => (shown::refused(why)), Ok((picture, label)) => { (shown::labelled(label)) (drawn(&app, &name_of(picture))) } }
        form method="post" action="/bench/picture" { (fields(&asked.picked, asked.subject)) div.actions { button { "Draw this" } } }
    };
    let lead = "Traced rays, spread over a drawn subject: blur, colour and light as the form has them; film and scanner as a usual scan.";
    Ok(Sheet::new("A predicted frame", Place::SetUp).lead(lead).neutral().show(body))
}

fn drawn(app: &App, name: &str) -> Markup {
    let task = app.tasks().about(&about(name));
    if file_of(app, name).exists() {
        return pictures(name);
    }
    match task.map(|task| (task.standing.clone(), task)) {
        Some((Standing::Running, task)) => task.bar(),
        Some((Standing::Failed(why), _)) => shown::refused(&why),
        Some((Standing::Stopped, _)) => html! { p { "It was stopped; nothing is left of it." } },
        _ => html! { p { "It is not drawn yet." } },
    }
}

fn pictures(name: &str) -> Markup {
    let src = |at: &str| format!("/bench/pictures/{name}/{at}.jpg");
    html! {
        figure.predicted {
            img src=(src("whole")) alt="The whole predicted frame, made smaller";
            figcaption { "The whole frame, made smaller. " a href=(format!("/bench/pictures/{name}/frame.tif")) { "The scan as 16-bit TIFF" } ", 1000 samples to the inch." }
        }
        div.columns { @for (word, place) in PIECES {
            figure.predicted { img src=(src(word)) width=(PIECE_PX) height=(PIECE_PX) alt=(format!("{place}, pixel for pixel")); figcaption { (place) ", pixel for pixel: 10.2 mm of film." } }
        } }
        p.small { "The last " (KEPT) " predicted frames are kept beside the notebook; older ones can be drawn again." }
    }
}

/// One picture of a frame, or its file.
pub(super) async fn file(
    State(app): State<App>,
    Path((name, what)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let missing = || PageError::missing("There is no such predicted frame: draw it again on its page.");
    if !is_name(&name) {
        return Err(missing());
    }
    let path = file_of(&app, &name);
    if what == "frame.tif" {
        let bytes = off_thread(move || std::fs::read(path)).await?.map_err(|_| missing())?;
        let head =
            [(CONTENT_TYPE, "image/tiff"), (CONTENT_DISPOSITION, "attachment; filename=\"predicted-frame.tif\"")];
        return Ok((head, bytes).into_response());
    }
    let place = what.strip_suffix(".jpg").map(str::to_owned).ok_or_else(missing)?;
    if !path.exists() || (place != "whole" && FramePlace::of(&place).is_none()) {
        return Err(missing());
    }
    let made = off_thread(move || light(path, &place).map(|light| light.jpeg([1.0; 3], QUALITY))).await?;
    let jpeg = made.map_err(|why| PageError::broken("This picture cannot be shown.", why))?;
    Ok(([(CONTENT_TYPE, "image/jpeg"), (CACHE_CONTROL, "no-cache")], jpeg).into_response())
}

fn light(path: PathBuf, place: &str) -> Result<PieceLight, imaging::ImagingError> {
    let mut scan = Scan::open(&path)?;
    let (width, height) = (scan.info().width, scan.info().height);
    let reading = match FramePlace::of(place) {
        None => {
            let factor = width.max(height).div_ceil(WHOLE_PX);
            scan.read_reduced(factor, ToneChoice::Icc, &mut |_| ControlFlow::Continue(()))?.reading
        }
        Some(place) => {
            let side = PIECE_PX.min(width).min(height);
            let [x, y] = place.centre((width, height), f64::from(side));
            let corner =
                |centre: f64, length: u32| ((centre - f64::from(side) / 2.0).max(0.0) as u32).min(length - side);
            let region = planes::Region { x: corner(x, width), y: corner(y, height), width: side, height: side };
            scan.read_linear(region, ToneChoice::Icc)?
        }
    };
    let planes = match reading.picture.channels() {
        Channels::Grey(plane) => [plane; 3],
        Channels::Rgb { planes, .. } => [&planes[0], &planes[1], &planes[2]],
    };
    let [red, green, blue] = planes.map(planes::Plane::samples);
    let rgb = red.iter().zip(green).zip(blue).map(|((r, g), b)| [*r, *g, *b]).collect();
    Ok(PieceLight { width: reading.picture.width() as u32, height: reading.picture.height() as u32, rgb })
}
