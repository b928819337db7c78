//! Which scans to set side by side.

use axum::response::Html;
use maud::html;
use notebook::{Scan, ScanId, ScanState};

use crate::web::App;
use crate::web::fmt;
use crate::web::layout::{Place, Sheet};
use crate::web::scans::thumbnail;

pub(super) fn page(app: &App, scans: &[Scan], ticked: &[ScanId], why: Option<&str>) -> Html<String> {
    let ready: Vec<_> = scans.iter().filter(|scan| scan.state == ScanState::Ready).collect();
    let body = html! {
        @if let Some(why) = why { p.note role="status" { (why) } }
        @if ready.len() < 2 {
            p { "This takes two prepared scans at least; there " @if ready.is_empty() { "are none yet. " } @else { "is one so far. " } }
            div.actions { a.button.main href="/scans" { "Load scans" } }
        } @else {
            form method="get" action="/side-by-side" {
                ul.scans {
                    @for scan in &ready {
                        li { label.scan.choose {
                            (thumbnail(app, scan))
                            span {
                                span.pick {
                                    input type="checkbox" name="scan" value=(scan.id) checked[ticked.contains(&scan.id)];
                                    strong { (scan.file_name) }
                                }
                                span.small { (size(scan)) }
                            }
                        } }
                    }
                }
                div.actions { button.main { "Set the ticked ones side by side" } span.soft { "two to four" } }
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
