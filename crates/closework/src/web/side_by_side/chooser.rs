//! Which scans to set side by side.

use axum::response::Html;
use maud::html;
use notebook::{Scan, ScanId, ScanState};

use crate::web::App;
use crate::web::fmt;
use crate::web::layout::{Place, Sheet};
use crate::web::scans::thumbnail;

/// How the page was come to.
pub(super) struct Asked<'a> {
    /// The scans that were named.
    pub ticked: &'a [ScanId],
    /// Whether one job's scans were asked for.
    pub of_job: bool,
    /// Why those that were named are not shown.
    pub why: Option<String>,
}

pub(super) fn page(app: &App, scans: &[Scan], asked: &Asked<'_>) -> Html<String> {
    // The job's scans alone are those that are wanted, as far as they go beside each other.
    let ticked = |k: usize, scan: &Scan| asked.ticked.contains(&scan.id) || (asked.of_job && k < super::MOST);
    let ready: Vec<_> = scans.iter().filter(|scan| scan.state == ScanState::Ready).collect();
    let body = html! {
        @if let Some(why) = &asked.why { p.note role="status" { (why) } }
        @if ready.len() < 2 {
            p { "This takes two prepared scans at least; there " @if ready.is_empty() { "are none yet. " } @else { "is one so far. " } }
            div.actions { a.button.main href="/scans" { "Load scans" } }
        } @else {
            form method="get" action="/side-by-side" {
                ul.scans {
                    @for (k, scan) in ready.iter().enumerate() {
                        li { label.scan.choose {
                            (thumbnail(app, scan))
                            span {
                                span.pick {
                                    input type="checkbox" name="scan" value=(scan.id) checked[ticked(k, scan)];
                                    strong { (scan.file_name) }
                                }
                                span.small { (size(scan)) }
                            }
                        } }
                    }
                }
                div.actions { button.main { "Set the ticked ones side by side" } span.soft { "two to four" } @if asked.of_job { a href="/side-by-side" { "All scans, of every job" } } }
            }
        }
    };
    let lead = "The same subject in two to four scans, brought to one size, moved and enlarged as one.";
    Sheet::new("Side by side", Place::SideBySide).lead(lead).neutral().show(body)
}

fn size(scan: &Scan) -> String {
    match scan.magnification {
        Some(m) => format!("magnification {} ({})", fmt::measured(m.value, m.plus_minus), fmt::ratio(m.value)),
        None => "magnification not known".into(),
    }
}
