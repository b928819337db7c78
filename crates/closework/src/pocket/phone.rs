//! Pocket cards as one page for a phone: everything is in the file, so that it works where there is no network.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use printing::Date;
use serde::Serialize;

use super::paper::{depth, setting, short, size, time};
use super::{Correction, PocketCard, Row, Scale, thirds};
use crate::web::fmt;

/// What the page's own script reads: the same figures as in the tables, unrounded.
#[derive(Serialize)]
struct CardData<'a> {
    scale: &'a str,
    stops: &'a [f64],
    rows: Vec<RowData>,
}

#[derive(Serialize)]
struct RowData {
    setting: String,
    size: String,
    field: String,
    room: String,
    light: f64,
    depths: Vec<String>,
}

/// The cards as one HTML file.
pub fn on_phone(cards: &[PocketCard], correction: Option<&Correction>, date: Option<Date>) -> String {
    let data: Vec<CardData<'_>> = cards.iter().map(data).collect();
    // "</" could end the element early; in JSON a slash may always be escaped.
    let data = serde_json::to_string(&data).unwrap_or_default().replace("</", "<\\/");
    let curve = correction.map_or(Vec::new(), |correction| correction.times_s.clone());
    let curve = serde_json::to_string(&curve).unwrap_or_default();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "Pocket cards" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { "Pocket cards" }
                p.small { "Made by Closework" @if let Some(date) = date { ", " (date) } ". Everything is in this file: it works without a network." }
                @if cards.len() > 1 { (contents(cards)) }
                @for (index, card) in cards.iter().enumerate() { (one(index, card)) }
                @if let Some(correction) = correction { (long_exposures(correction)) }
                p.small { strong { "Care: " } "hot lamps burn skin and specimens; no flash near eyes; never look at the sun through a lens. Local rules and the makers’ instructions come first." }
                script type="application/json" id="cards" { (PreEscaped(data)) }
                script type="application/json" id="film" { (PreEscaped(curve)) }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    page.into_string()
}

fn data(card: &PocketCard) -> CardData<'_> {
    CardData { scale: card.scale.label(), stops: &card.f_numbers, rows: card.rows.iter().map(row_data).collect() }
}

fn row_data(row: &Row) -> RowData {
    RowData {
        setting: setting(row),
        size: size(row),
        field: field(row),
        room: row.working_mm.map_or("∞".into(), |mm| short(mm.value)),
        light: row.stops.value,
        depths: row.depths_mm.iter().map(|mm| mm.map_or("∞".into(), depth)).collect(),
    }
}

fn field(row: &Row) -> String {
    row.field_mm.map_or("∞".into(), |[width, height]| format!("{} × {}", short(width), short(height)))
}

fn contents(cards: &[PocketCard]) -> Markup {
    html! {
        nav aria-label="Cards" { ul { @for (index, card) in cards.iter().enumerate() { li { a href=(format!("#card-{index}")) { (card.name) } } } } }
    }
}

fn one(index: usize, card: &PocketCard) -> Markup {
    let id = format!("card-{index}");
    html! {
        section id=(id) aria-labelledby=(format!("{id}-name")) {
            h2 id=(format!("{id}-name")) { (card.name) }
            p.small { (card.body) }
            div.live hidden data-card=(index) {
                @if card.rows.len() > 1 {
                    label for=(format!("{id}-at")) { (card.scale.label()) " " output.at {} " mm" }
                    input type="range" id=(format!("{id}-at")) min="0" max=(card.rows.len() - 1) value="0";
                }
                dl {
                    div { dt { "size" } dd.size {} }
                    div { dt { "field, mm" } dd.field {} }
                    div { dt { "room, mm" } dd.room {} }
                    div { dt { "light, stops" } dd.light {} }
                    @for stop in &card.f_numbers { div { dt { "depth f/" (stop) ", mm" } dd.depth {} } }
                }
                div.meter {
                    label for=(format!("{id}-meter")) { "The meter says" }
                    input id=(format!("{id}-meter")) inputmode="decimal" autocomplete="off" placeholder="1/15 or 0.5";
                    p.answer role="status" {}
                }
            }
            details open[card.rows.len() <= super::ROWS] { summary { "Table" } (table(card)) }
            p.small { (card.doubts_in_words()) " Sharp: discs up to " (fmt::figure(card.coc_mm * 1000.0, 2)) " µm on film." }
            @for warning in &card.warnings { p.small { (warning) } }
        }
    }
}

fn table(card: &PocketCard) -> Markup {
    let set = card.scale != Scale::Fixed;
    html! {
        div.scroll tabindex="0" role="region" aria-label="Table" {
            table {
                thead { tr {
                    @if set { th scope="col" { (card.scale.label()) " mm" } }
                    th scope="col" { "size" }
                    th scope="col" { "field mm" }
                    th scope="col" { "room mm" }
                    th scope="col" { "light stops" }
                    @for stop in &card.f_numbers { th scope="col" { "depth f/" (stop) } }
                } }
                tbody { @for row in &card.rows { tr {
                    @if set { th scope="row" { (setting(row)) } }
                    td { (size(row)) }
                    td { (field(row)) }
                    td { (row.working_mm.map_or("∞".into(), |mm| short(mm.value))) }
                    td { (thirds(row.stops.value)) }
                    @for mm in &row.depths_mm { td { (mm.map_or("∞".into(), depth)) } }
                } } }
            }
        }
    }
}

fn long_exposures(correction: &Correction) -> Markup {
    let unsure = correction.times_s.iter().any(|(_, _, sure)| !sure);
    html! {
        section aria-labelledby="long" {
            h2 id="long" { "Long exposures" }
            p.small { (correction.film) }
            div.scroll tabindex="0" role="region" aria-label="Long exposures" { table {
                thead { tr { th scope="col" { "metered" } th scope="col" { "expose" } } }
                tbody { @for (metered, expose, sure) in &correction.times_s { tr {
                    th scope="row" { (time(*metered)) " s" } td { (time(*expose)) @if *expose < 99.5 { " s" } @if !sure { " ?" } }
                } } }
            } }
            @if unsure { p.small { "? lies outside what the source covers: test it." } }
        }
    }
}

const STYLE: &str = "
:root{color-scheme:light dark;--ink:#1d2126;--paper:#fbfaf6;--line:#b9b7ae;--accent:#a03c1c}
@media(prefers-color-scheme:dark){:root{--ink:#d8d4cb;--paper:#15130f;--line:#4a463f;--accent:#e08a62}}
body{margin:0 auto;padding:12px;max-width:40rem;background:var(--paper);color:var(--ink);font:18px/1.35 system-ui,sans-serif;font-variant-numeric:tabular-nums}
h1{font-size:1.3rem;margin:0 0 .2rem}h2{font-size:1.15rem;margin:0 0 .1rem}
section{border-top:2px solid var(--ink);margin-top:1.4rem;padding-top:.6rem}
.small{font-size:.85rem;margin:.2rem 0 .6rem}
nav ul{padding-left:1.1rem}nav a,summary{color:var(--accent);min-height:44px;line-height:44px}
dl{display:grid;grid-template-columns:repeat(auto-fill,minmax(9.2rem,1fr));gap:.4rem;margin:.6rem 0}
dl div{border:1px solid var(--line);padding:.3rem .5rem}dt{font-size:.85rem}dd{margin:0;font-size:1.7rem}
label{display:block}.at{font-size:1.5rem;font-weight:600}
input[type=range]{width:100%;height:48px;accent-color:var(--accent)}
.meter input{font:inherit;font-size:1.3rem;width:9rem;min-height:48px;padding:0 .5rem;background:transparent;color:inherit;border:1px solid var(--ink)}
.answer{font-size:1.4rem;min-height:1.4em;margin:.3rem 0}
.scroll{overflow-x:auto}table{border-collapse:collapse;width:100%}th,td{padding:.3rem .5rem;text-align:right;border-bottom:1px solid var(--line);white-space:nowrap;font-weight:400}thead th{font-size:.8rem;font-weight:600;white-space:normal}
:focus-visible{outline:3px solid var(--accent);outline-offset:2px}
";

/// Moves the figures with the slider and turns a meter's reading into a time. The page says all without it.
const SCRIPT: &str = r#"
(() => {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const cards = read('cards'), film = read('film');
  const seconds = (typed) => {
    const text = typed.trim().replace(/s$/, '').replace(',', '.').trim();
    const parts = text.split('/').map(Number);
    const value = parts.length === 2 ? parts[0] / parts[1] : parts[0];
    return text && parts.length <= 2 && value > 0 && Number.isFinite(value) ? value : null;
  };
  const shown = (s) => {
    if (s >= 99.5) return Math.floor(s / 60) + ' min ' + Math.round(s % 60) + ' s';
    if (s >= 0.35) return Number(s.toPrecision(2)) + ' s';
    return '1/' + Number((1 / s).toPrecision(2)) + ' s';
  };
  // Between the listed times by straight lines in the logarithms of both, as such tables are usually read.
  const corrected = (s) => {
    if (!film.length || s <= film[0][0]) return [s, true];
    let at = 1;
    while (at < film.length - 1 && film[at][0] < s) at += 1;
    const [a, b] = [film[at - 1], film[at]];
    const share = Math.log(s / a[0]) / Math.log(b[0] / a[0]);
    return [a[1] * Math.pow(b[1] / a[1], share), s <= b[0] && b[2]];
  };
  const thirds = (stops) => {
    const n = Math.round(Math.abs(stops) * 3), part = ['', '⅓', '⅔'][n % 3], whole = Math.floor(n / 3);
    return n === 0 ? '0' : (stops < 0 ? '−' : '+') + (whole || '') + part;
  };
  for (const live of document.querySelectorAll('.live')) {
    const card = cards[live.dataset.card], slider = live.querySelector('input[type=range]');
    const meter = live.querySelector('.meter input'), answer = live.querySelector('.answer');
    const put = (name, text) => { live.querySelector('.' + name).textContent = text; };
    const show = () => {
      const row = card.rows[slider ? slider.value : 0];
      if (slider) { put('at', row.setting); slider.setAttribute('aria-valuetext', row.setting + ' mm, ' + row.size); }
      put('size', row.size); put('field', row.field); put('room', row.room); put('light', thirds(row.light));
      live.querySelectorAll('.depth').forEach((cell, i) => { cell.textContent = row.depths[i]; });
      const read = seconds(meter.value);
      if (read === null) { answer.textContent = meter.value.trim() ? 'Write the time like 1/15 or 0.5.' : ''; return; }
      const needed = read * Math.pow(2, row.light), [film, sure] = corrected(needed);
      const long = film > needed * 1.03 ? ', with the film’s loss ' + shown(film) : '';
      answer.textContent = 'Expose ' + shown(needed) + long + (sure ? '' : ' (outside what the source covers: test it)');
    };
    if (slider) slider.addEventListener('input', show);
    meter.addEventListener('input', show);
    live.hidden = false;
    show();
  }
})();
"#;
