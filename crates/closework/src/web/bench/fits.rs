//! Which form of the library fits the measured frames of a lens best. Nothing is kept before a person chooses.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::ControlFlow;
use std::sync::Arc;

use axum::extract::{RawQuery, State};
use axum::response::Redirect;
use kit::{Kind, Kit, Part};
use maud::{Markup, html};

use super::{measured, shown};
use crate::bench::{Fit, MeasuredError, MeasuredFrame, TraceError, fit, measured_frames, off_by_words, taken_with};
use crate::web::error::{PageResult, sentence};
use crate::web::form::Filled;
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::tasks::{Standing, Task};
use crate::web::{App, PageError};

const LEAD: &str = "Every form of the library and every lens table of your own in the place of the lens, asked for the frames that were measured with it.";

struct Asked {
    kit: Kit,
    lens: Part,
    frames: Vec<MeasuredFrame>,
}

impl Asked {
    async fn read(app: &App, lens: &str) -> Result<Self, PageError> {
        let id = lens.to_owned();
        let read = app.notebook(move |book| {
            let frames = measured_frames(book, |frame| taken_with(&frame.parts, &id))?;
            Ok::<_, PageError>((read_kit(book)?, frames))
        });
        let (kit, frames) = read.await?;
        let part = kit.part(lens).filter(|part| part.kind() == Kind::Lens).cloned();
        let part = part.ok_or_else(|| PageError::missing(format!("There is no lens “{lens}” in the kit.")))?;
        Ok(Self { frames, lens: part, kit })
    }

    /// Changes with the kit and with what was measured, so that an old result is never shown for new figures.
    fn key(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        format!("{:?} {:?} {:?}", self.kit, self.lens.id(), self.frames).hash(&mut hasher);
        hasher.finish()
    }

    fn about(&self) -> String {
        format!("bench/fit/{:x}", self.key())
    }
}

pub(super) async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let query = Filled::from_query(query.as_deref());
    let asked = Asked::read(&app, query.text("lens")).await?;
    let task = app.tasks().about(&asked.about());
    let body = html! {
        (shown::not_yours())
        @if asked.frames.is_empty() {
            p { "No measured frame was taken with " strong { (asked.lens.name()) } ". Scan one, say which frame it shows, and measure the whole frame." }
        } @else {
            h2 { "Measured with it" }
            (measured::listed(&asked.kit, &asked.frames))
            @match (app.desk().fits(asked.key()), task) {
                (Some(fits), _) => (ranked(&asked.lens, &fits)),
                (None, Some(task)) if task.standing == Standing::Running => (task.bar()),
                (None, task) => {
                    @if let Some(Standing::Failed(why)) = task.map(|task| task.standing) { (shown::refused(&why)) }
                    form method="post" action="/bench/fit" {
                        input type="hidden" name="lens" value=(asked.lens.id());
                        div.actions { button.main { "Try every form" } }
                        p.hint { "Rays are traced for every form and frame: some seconds to a minute." }
                    }
                },
            }
        }
    };
    let title = format!("The form that fits {} best", asked.lens.name());
    Ok(Sheet::new(&title, Place::SetUp).lead(LEAD).show(body))
}

fn ranked(lens: &Part, fits: &[Fit]) -> Markup {
    html! {
        h2 { "The best first" }
        p { "How far predicted and measured contrast are apart, both as shares of the middle’s so that film and scanner fall out: the root mean square, the surer counting more. Misfocus and a card that did not lie square count as the lens’s faults here." }
        div.scroll tabindex="0" role="region" aria-label="Forms by how well they fit" {
            table {
                thead { tr { th scope="col" { "Form" } th.n scope="col" { "Off by" } th scope="col" { "" } } }
                tbody { @for fit in fits { tr {
                    th scope="row" { a href=(shown::page_of(&fit.design)) { (fit.design.name()) } @if fit.design.own().is_some() { span.soft { " your own table" } } }
                    td { @match &fit.off_by { Ok(off) => (off_by_words(*off)), Err(why) => (sentence(why)) } }
                    td { @if fit.chosen { strong { "stands for it now" } } @else { (choose(lens, fit)) } }
                } } }
            }
        }
    }
}

fn choose(lens: &Part, fit: &Fit) -> Markup {
    html! {
        form.inline method="post" action="/bench/choose" {
            input type="hidden" name="lens" value=(lens.id());
            input type="hidden" name="form" value=(fit.design.key());
            button.quiet { "Let it stand" span.unseen { " for " (lens.name()) ": " (fit.design.name()) } }
        }
    }
}

pub(super) async fn begin(State(app): State<App>, filled: Filled) -> Result<Redirect, PageError> {
    let asked = Asked::read(&app, filled.text("lens")).await?;
    let back = format!("/bench/fit?lens={}", asked.lens.id());
    let about = asked.about();
    let running = app.tasks().about(&about).is_some_and(|task| task.standing == Standing::Running);
    if !running {
        let task = app.tasks().start(format!("Trying every form for {}", asked.lens.name()), about);
        std::thread::spawn(move || run(&app, &asked, task));
    }
    Ok(Redirect::to(&back))
}

fn run(app: &App, asked: &Asked, task: Task) {
    let fits = {
        let _turn = app.turn();
        let heard = |share: f64| {
            // Single traces within a form say nothing of the whole.
            if share.is_finite() {
                task.reached(share);
            }
            if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        fit(&asked.kit, asked.lens.id(), &asked.frames, &heard)
    };
    task.end(match fits {
        Ok(fits) => {
            app.desk().keep_fits(asked.key(), Arc::new(fits));
            Standing::Done
        }
        Err(MeasuredError::Trace(TraceError::Stopped)) => Standing::Stopped,
        Err(why) => Standing::Failed(sentence(&why.to_string())),
    });
}
