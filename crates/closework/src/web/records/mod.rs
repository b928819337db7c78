//! What goes out of a job and comes in from paper: sidecars, the table of its frames, a log typed from paper.
//!
//! Files are given to the browser alone; the server writes to no path that a visitor chose. A table that was sent waits in a
//! file without a name until it is kept or another one comes.

mod paper;
mod shelf;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use notebook::{Job, Notebook, Scan, ScanId};

use super::jobs::found;
use super::kit_book::read_kit;
use super::layout::{Place, Sheet};
use super::{App, PageError, PageResult};
use crate::records::beside::Naming;
use crate::records::table::{self, ColumnSpec};
use crate::records::{Known, archive};
pub(super) use shelf::Shelf;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/jobs/{id}/records", get(page))
        .route("/jobs/{id}/frames.csv", get(frames))
        .route("/jobs/{id}/frames-template.csv", get(template))
        .route("/jobs/{id}/sidecars.zip", get(sidecars))
        .route("/scans/{id}/sidecar", get(sidecar))
        .route("/jobs/{id}/paper", post(paper::look).layer(paper::limit()))
        .route("/jobs/{id}/paper/keep", post(paper::keep))
}

/// Everything that is known of the job of an address.
async fn known(app: &App, id: &str) -> Result<Known, PageError> {
    let job = found(app, id).await?;
    let gone = format!("There is no job {id}.");
    let read = move |book: &mut Notebook| {
        let kit = read_kit(book)?;
        Known::read(book, job.id, kit)?.ok_or_else(|| PageError::missing(gone))
    };
    app.notebook(read).await
}

/// A file for the browser to save.
pub(super) fn download(name: &str, kind: &'static str, bytes: impl Into<Vec<u8>>) -> Response {
    let plain: String =
        name.chars().map(|c| if c.is_ascii_graphic() && !"\"\\;%".contains(c) { c } else { '_' }).collect();
    let whole: String = form_urlencoded::byte_serialize(name.as_bytes()).collect::<String>().replace('+', "%20");
    // RFC 6266, section 4.3: the plain name for old programs, the whole one for all others.
    let disposition = format!("attachment; filename=\"{plain}\"; filename*=UTF-8''{whole}");
    ([(CONTENT_TYPE, kind.to_owned()), (CONTENT_DISPOSITION, disposition)], bytes.into()).into_response()
}

const CSV: &str = "text/csv; charset=utf-8";

async fn frames(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let known = known(&app, &id).await?;
    let text = table::BYTE_ORDER_MARK.to_owned() + &table::write(&known);
    Ok(download(&format!("{} frames.csv", named(&known.job)), CSV, text))
}

async fn template(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let known = known(&app, &id).await?;
    let text = table::BYTE_ORDER_MARK.to_owned() + &table::template(Some(&known));
    Ok(download(&format!("{} log.csv", named(&known.job)), CSV, text))
}

/// The job's title as a part of a file's name.
fn named(job: &Job) -> String {
    let plain: String = job.title.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { ' ' }).collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    words.join(" ").chars().take(60).collect()
}

async fn sidecars(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let known = known(&app, &id).await?;
    let all = known.scans.iter().filter_map(|scan| Some((name_of(scan), known.sidecar(scan)?.to_xmp().into_bytes())));
    let all: Vec<archive::Member> = all.collect();
    if all.is_empty() {
        let advice = "Match the job's scans to its frames first: a sidecar says what the frame says.";
        return Err(PageError::refused("No scan of this job shows a frame yet.", advice));
    }
    let advice = "Take the sidecars one by one, from the pages of the scans.";
    let bytes =
        archive::zip(&all).map_err(|error| PageError::refused(super::error::sentence(&error.to_string()), advice))?;
    Ok(download(&format!("{} sidecars.zip", named(&known.job)), "application/zip", bytes))
}

fn name_of(scan: &Scan) -> String {
    Naming::default().of(&scan.file_name)
}

async fn sidecar(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let missing = || PageError::missing(format!("There is no scan {id}."));
    let number: ScanId = id.parse().map_err(|_| missing())?;
    let scan = app.notebook(move |book| book.scan(number)).await?.ok_or_else(missing)?;
    let advice = "Say on the scan's page which frame it shows: a sidecar says what the frame says.";
    let refused = || PageError::refused("This scan shows no frame yet, so that nothing is known to write.", advice);
    let job = scan.job.ok_or_else(refused)?;
    let known = known(&app, &job.to_string()).await?;
    let said = known.sidecar(&scan).ok_or_else(refused)?;
    Ok(download(&name_of(&scan), "application/rdf+xml", said.to_xmp()))
}

async fn page(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let known = known(&app, &id).await?;
    Ok(show(&known, html! {}))
}

/// The page, with what came of a table above it.
fn show(known: &Known, above: Markup) -> Html<String> {
    let title = format!("{}: records", known.job.title);
    let body = html! {
        p { a href=(format!("/jobs/{}", known.job.id)) { "Back to the job" } }
        (above)
        section.columns aria-label="Out and in" {
            (out(known))
            (paper::form(known))
        }
        (columns())
    };
    let lead = "What is known of frames and scans, for other programs; and logs that were kept on paper.";
    Sheet::new(&title, Place::Jobs).lead(lead).show(body)
}

fn out(known: &Known) -> Markup {
    let id = known.job.id;
    let matched = known.scans.iter().filter(|scan| known.frame_of(scan).is_some()).count();
    html! {
        div.detail {
            h2 { "Out" }
            p { "All frames as a table (CSV): settings as planned and as taken, scans, measured figures. Texts that a spreadsheet would compute have an apostrophe in front." }
            div.actions { a.button href=(format!("/jobs/{id}/frames.csv")) download { "Save the table" } }
            h3 { "Sidecars" }
            p { "One small file (XMP) for each scan: lens, f-number, time, film, set-up. Put it beside the scan, and programs that show pictures show what you logged. " (matched) " of " (known.scans.len()) " scans show a frame." }
            @if matched > 0 {
                div.actions { a.button href=(format!("/jobs/{id}/sidecars.zip")) download { "Save all sidecars (ZIP)" } }
                details {
                    summary { "One by one" }
                    ul { @for scan in known.scans.iter().filter(|scan| known.frame_of(scan).is_some()) {
                        li { a href=(format!("/scans/{}/sidecar", scan.id)) download { (name_of(scan)) } }
                    } }
                }
                p.hint { "On the command line, " code { "closework sidecars --job " (id) " --beside FOLDER" } " writes them beside the scans in a folder of yours, never over a file that Closework did not make." }
            } @else {
                p { a href=(format!("/jobs/{id}/matching")) { "Match scans to frames" } " first." }
            }
        }
    }
}

/// What the columns mean, for whoever fills in a table.
fn columns() -> Markup {
    html! {
        section aria-labelledby="columns" {
            h2 id="columns" { "The columns" }
            p { "In any order; commas, semicolons or tabs between cells; decimal points or commas. Empty cells leave what is there. " code { "frame" } " is needed, all others are not. A row without a state counts as taken when it has an f-number, a time or a meter reading." }
            div.scroll {
                table {
                    thead { tr { th scope="col" { "Column" } th scope="col" { "What it holds" } th scope="col" { "Also called" } } }
                    tbody { @for spec in ColumnSpec::ALL.iter().filter(|spec| spec.read) {
                        tr { th scope="row" { code { (spec.name) } } td { (spec.about) } td.soft { (spec.also.join(", ")) } }
                    } }
                }
            }
        }
    }
}
