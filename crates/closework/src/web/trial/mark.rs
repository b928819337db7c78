//! Marking the same detail in each scan: a click in a small picture sends its place, so that no script is needed.

use axum::extract::{Path, RawQuery, State};
use imaging::pyramid::{self, Pyramid};
use maud::{Markup, html};
use notebook::{Notebook, Scan, ScanId};

use super::form::{self, Offered};
use crate::web::App;
use crate::web::error::PageResult;
use crate::web::form::{Field, Filled};
use crate::web::jobs::found;
use crate::web::layout::{Place, Sheet};
use crate::web::scans::{picture_address, tiles_of};

/// Side of the small pictures, CSS pixels; they are never shown at another size, as a click's place is counted in them.
const SIDE: u32 = 300;
/// The near view shows this many times the piece.
const NEAR: f64 = 2.0;

pub(super) async fn page(State(app): State<App>, Path(id): Path<String>, RawQuery(query): RawQuery) -> PageResult {
    let job = found(&app, &id).await?;
    let whole = app.notebook(move |book: &mut Notebook| form::read(book, job)).await?;
    let filled = Filled::from_query(query.as_deref());
    Ok(show(&app, &whole, filled))
}

/// The chosen scans, in the order of the page.
fn chosen<'a>(whole: &'a form::Whole, filled: &Filled) -> Vec<&'a Offered> {
    let ticked: Vec<ScanId> = filled.all("scan").filter_map(|id| id.parse().ok()).collect();
    whole.scans.iter().filter(|offered| ticked.contains(&offered.scan.id)).collect()
}

pub(super) fn show(app: &App, whole: &form::Whole, filled: Filled) -> axum::response::Html<String> {
    let scans = chosen(whole, &filled);
    let views: Vec<View<'_>> = scans.iter().filter_map(|offered| View::of(app, offered, &filled)).collect();
    let filled = views.iter().fold(filled, |filled, view| view.settle(filled));
    let action = format!("/jobs/{}/trials", whole.job.id);
    let body = html! {
        p { a href=(action) { "Back to the form" } }
        (filled.summary())
        p { "Click the same detail in each picture: first roughly in the whole, then exactly in the near view. Or type its place." }
        form method="get" action=(format!("{action}/mark")) {
            (carried(&filled))
            // What Enter in a field does; a picture would send a place that nobody clicked.
            button.unseen type="submit" tabindex="-1" aria-hidden="true" { "Show these places" }
            div.marking { @for view in &views { (view.show(&filled)) } }
            div.actions {
                button type="submit" { "Show these places" }
                button.main type="submit" formmethod="post" formaction=(action) { "Begin with these" }
            }
        }
    };
    Sheet::new("The same detail", Place::Jobs)
        .lead("A piece around each mark is shown in the trial, all of them at one size of the subject.")
        .neutral()
        .show(body)
}

/// What the first form said, carried along unseen.
fn carried(filled: &Filled) -> Markup {
    html! {
        @for id in filled.all("scan") { input type="hidden" name="scan" value=(id); }
        @for name in ["question", "title", "piece_mm", "one_tone"] {
            @if filled.ticked(name) { input type="hidden" name=(name) value=(filled.text(name)); }
        }
        input type="hidden" name="place" value=(super::MARKED);
    }
}

/// A scan with the place that is marked in it.
struct View<'a> {
    scan: &'a Scan,
    pyramid: Pyramid,
    /// Side of the near view, pixels of the scan.
    near: f64,
    /// The mark, pixels of the scan.
    mark: [f64; 2],
}

impl<'a> View<'a> {
    fn of(app: &App, offered: &'a Offered, filled: &Filled) -> Option<Self> {
        let scan = &offered.scan;
        let pyramid = pyramid::load(&tiles_of(app, &scan.stored)).ok()?;
        let piece_mm = crate::web::form::parse_number(filled.text("piece_mm")).filter(|mm| *mm > 0.0);
        let shorter = f64::from(pyramid.width.min(pyramid.height));
        let wanted = piece_mm.zip(offered.px_per_mm).map(|(mm, (px, _))| NEAR * mm * px);
        let near = wanted.unwrap_or(NEAR * f64::from(super::begin::PIECE_PX)).clamp(SIDE as f64 / 4.0, shorter);
        let mut view = Self { scan, pyramid, near, mark: [0.0; 2] };
        view.mark = view.clicked(filled).unwrap_or_else(|| view.typed(filled));
        Some(view)
    }

    fn name(&self, what: &str) -> String {
        format!("{what}-{}", self.scan.id)
    }

    /// What is typed, per cent of the frame; the middle where nothing is.
    fn typed(&self, filled: &Filled) -> [f64; 2] {
        let share = |axis: &str| {
            let typed = crate::web::form::parse_number(filled.text(&self.name(axis)));
            typed.filter(|share| (0.0..=100.0).contains(share)).unwrap_or(50.0) / 100.0
        };
        [share("across") * f64::from(self.pyramid.width), share("down") * f64::from(self.pyramid.height)]
    }

    /// Where a click fell: browsers send the place within a clicked picture as name.x and name.y.
    fn clicked(&self, filled: &Filled) -> Option<[f64; 2]> {
        let place = |name: &str| {
            let at = |axis: &str| crate::web::form::parse_number(filled.text(&format!("{}.{axis}", self.name(name))));
            Some((at("x")?, at("y")?))
        };
        let bounded = |x: f64, y: f64| {
            [x.clamp(0.0, f64::from(self.pyramid.width)), y.clamp(0.0, f64::from(self.pyramid.height))]
        };
        if let Some((x, y)) = place("whole") {
            let scale = f64::from(self.pyramid.width) / f64::from(self.whole_size().0);
            return Some(bounded((x + 0.5) * scale, (y + 0.5) * scale));
        }
        let (x, y) = place("near")?;
        let before = View { mark: self.typed(filled), ..self.copied() };
        let [left, top, side] = before.near_region();
        let scale = side / f64::from(SIDE);
        Some(bounded(left + (x + 0.5) * scale, top + (y + 0.5) * scale))
    }

    fn copied(&self) -> View<'a> {
        View { scan: self.scan, pyramid: self.pyramid, near: self.near, mark: self.mark }
    }

    /// Left, top and side of the near view, pixels of the scan, kept within it.
    fn near_region(&self) -> [f64; 3] {
        let from =
            |at: f64, length: u32| (at - self.near / 2.0).clamp(0.0, (f64::from(length) - self.near).max(0.0)).floor();
        [from(self.mark[0], self.pyramid.width), from(self.mark[1], self.pyramid.height), self.near.floor()]
    }

    fn whole_size(&self) -> (u32, u32) {
        let (w, h) = (f64::from(self.pyramid.width), f64::from(self.pyramid.height));
        let scale = (f64::from(SIDE) / w.max(h)).min(1.0);
        (((w * scale).round() as u32).max(1), ((h * scale).round() as u32).max(1))
    }

    /// The form with this mark in its fields.
    fn settle(&self, mut filled: Filled) -> Filled {
        let share = |at: f64, length: u32| format!("{:.3}", 100.0 * at / f64::from(length));
        filled.set(&self.name("across"), share(self.mark[0], self.pyramid.width));
        filled.set(&self.name("down"), share(self.mark[1], self.pyramid.height));
        filled
    }

    fn show(&self, filled: &Filled) -> Markup {
        let (wide, high) = self.whole_size();
        let [left, top, side] = self.near_region();
        let near = format!("{left:.0},{top:.0},{side:.0},{side:.0}/{0},{0}/0/default.jpg", (side as u32).min(SIDE));
        let (across, down) = (self.name("across"), self.name("down"));
        let (shown_left, shown_top) = (100.0 * (self.mark[0] - left) / side, 100.0 * (self.mark[1] - top) / side);
        html! {
            fieldset {
                legend { (self.scan.file_name) }
                div.marked {
                    input type="image" name=(self.name("whole")) src=(picture_address(self.scan, &format!("full/{wide},{high}/0/default.jpg"))) width=(wide) height=(high) alt=(format!("Mark in the whole of {}", self.scan.file_name));
                    span.near {
                        input type="image" name=(self.name("near")) src=(picture_address(self.scan, &near)) width=(SIDE) height=(SIDE) alt=(format!("Mark in the near view of {}", self.scan.file_name));
                        svg.here viewBox="0 0 100 100" width=(SIDE) height=(SIDE) aria-hidden="true" {
                            path d=(format!("M{shown_left:.2} {:.2}v-7M{shown_left:.2} {:.2}v7M{:.2} {shown_top:.2}h-7M{:.2} {shown_top:.2}h7", shown_top - 2.0, shown_top + 2.0, shown_left - 2.0, shown_left + 2.0)) {}
                        }
                    }
                }
                div.fields.four {
                    (Field::number(&across, "From the left").unit("%").show(filled))
                    (Field::number(&down, "From the top").unit("%").show(filled))
                }
            }
        }
    }
}
