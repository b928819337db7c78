//! A report as one page that needs nothing beside it: no network, no script, pictures inside.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use printing::{Page, Role, Shape};

use super::model::{Figure, Item, Report, Table};

/// The look: a workshop drawing on paper, and in grey on a printer.
const STYLE: &str = include_str!("report.css");

/// The report as one HTML file.
pub fn to_html(report: &Report) -> String {
    let mut figures = 0;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (report.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (report.title) }
                    @if let Some(date) = report.date { p.small { "Made on " (date) "." } }
                    p.lead { (report.lead) }
                    nav aria-label="Contents" {
                        ol { @for section in &report.sections { li { a href=(format!("#{}", section.id)) { (section.heading) } } } }
                    }
                }
                main {
                    @for section in &report.sections {
                        section aria-labelledby=(section.id) {
                            h2 id=(section.id) { (section.heading) }
                            @for item in &section.items { (one(item, &mut figures)) }
                        }
                    }
                }
            }
        }
    };
    page.into_string()
}

fn one(item: &Item, figures: &mut usize) -> Markup {
    html! {
        @match item {
            Item::Heading { id, text } => h3 id=[Some(id).filter(|id| !id.is_empty())] { (text) },
            Item::Text(text) => p { (text) },
            Item::Note(text) => p.small { (text) },
            Item::Caution(text) => p.caution { (text) },
            Item::Link { text, to } => p.link { a href=(to) { (text) } },
            Item::Facts(facts) => dl { @for (name, value) in facts { dt { (name) } dd { (value) } } },
            Item::Table(table) => (cells(table)),
            Item::Figures(row) => div.row {
                @for figure in row { (drawn(figure, { *figures += 1; *figures })) }
            },
        }
    }
}

fn cells(table: &Table) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(if table.caption.is_empty() { "Table" } else { &table.caption }) {
            table {
                @if !table.caption.is_empty() { caption { (table.caption) } }
                thead { tr { @for (head, figures, _) in &table.columns { th scope="col" class=[figures.then_some("n")] { (head) } } } }
                tbody { @for row in &table.rows { tr {
                    @for (cell, (_, figures, _)) in row.iter().zip(&table.columns) { td class=[figures.then_some("n")] { (cell) } }
                } } }
            }
        }
    }
}

fn drawn(figure: &Figure, number: usize) -> Markup {
    let [width, _] = figure.size_mm;
    html! {
        figure style=(format!("flex-basis:{width:.1}mm")) {
            (PreEscaped(svg(figure, number)))
            @if !figure.caption.is_empty() { figcaption { (figure.caption) } }
        }
    }
}

/// The drawing as it is printed; a picture alone as the picture that it is.
fn svg(figure: &Figure, number: usize) -> String {
    let mut page = Page::new(figure.size_mm);
    if let [Shape::Picture(picture)] = figure.shapes.as_slice() {
        let data = picture.to_data();
        let [width, height] = figure.size_mm.map(|mm| mm * 96.0 / 25.4);
        return html! { img src=(data) width=(format!("{width:.0}")) height=(format!("{height:.0}")) alt=(figure.words); }
            .into_string();
    }
    page.block(Role::Drawing(figure.words.clone())).shapes = figure.shapes.clone();
    page.to_svg(&format!("figure-{number}"), &figure.words)
}
