//! What blind trials came to.

use printing::{Grey, Page, Pen, Role, Style};

use super::chart::{round, ticks};
use super::material::{EndedTrial, Material};
use super::model::{Figure, Item, Section, Table, WIDTH_MM};
use crate::trial::{OutcomeDocument, agreement_words, enough, headline, span, steady};
use crate::web::error::sentence;
use crate::web::fmt;

/// The section; none when no trial has ended.
pub fn trials(m: &Material) -> Option<Section> {
    if m.trials.is_empty() {
        return None;
    }
    let section = Section::new("trials", "Blind trials");
    Some(m.trials.iter().fold(section, of_trial))
}

fn of_trial(section: Section, ended: &EndedTrial) -> Section {
    let outcome = &ended.outcome;
    let open = outcome.pairs.iter().filter(|pair| pair.settled == "open").count();
    let mut section = section
        .with(Item::Heading { id: String::new(), text: ended.trial.draft.title.clone() })
        .text(headline(outcome))
        .note(format!(
            "Asked: “{}” Shown: {}, {} mm of the subject. {}, {} of them “no difference”; ended {}.",
            outcome.question,
            outcome.place,
            fmt::figure(ended.document.piece_mm, 3),
            fmt::count(outcome.picks, "pick", "picks"),
            outcome.same,
            ended.trial.ended.as_deref().and_then(|at| at.get(..10)).unwrap_or_default()
        ));
    if let Some(scale) = scale(outcome) {
        section = section.with(Item::Figures(vec![scale]));
    }
    section = section.with(Item::Table(items(outcome)));
    if !outcome.pairs.is_empty() {
        section = section.text(enough(outcome, open));
        section = steady(outcome).into_iter().fold(section, Section::text);
    }
    if let Some(eye) = &outcome.eye {
        section = section.text(agreement_words(outcome, eye, &ended.figure));
    }
    outcome.remarks.iter().fold(section, |section, remark| section.note(sentence(remark)))
}

fn items(outcome: &OutcomeDocument) -> Table {
    let mut table = Table::of(
        "The scans, the best liked first. Strength in log-odds against the mean of all: a step of 1.1 is three picks to one.",
        &[
            ("Scan", 1.8),
            ("Set-up", 3.0),
            ("*Strength", 1.0),
            ("*95 % interval", 1.6),
            ("*Won", 0.7),
            ("*Lost", 0.7),
            ("*Same", 0.7),
        ],
    );
    table.rows = outcome
        .items
        .iter()
        .map(|item| {
            vec![
                item.name.clone(),
                item.set_up.clone(),
                item.strength.map_or("–".into(), |s| fmt::figure(s.value, 2)),
                item.strength.map_or("–".into(), span),
                item.won.to_string(),
                item.lost.to_string(),
                item.same.to_string(),
            ]
        })
        .collect();
    table
}

const ROW: f64 = 6.0;
const NAMES: f64 = 46.0;

/// The scale: a point and its interval for every scan.
fn scale(outcome: &OutcomeDocument) -> Option<Figure> {
    let strengths: Option<Vec<_>> = outcome.items.iter().map(|item| item.strength).collect();
    let strengths = strengths?;
    let far = strengths.iter().flat_map(|s| [s.value, s.low.unwrap_or(s.value), s.high.unwrap_or(s.value)]);
    let end = far.map(f64::abs).fold(1.0, f64::max) * 1.05;
    let height = ROW * outcome.items.len() as f64 + 9.0;
    let mut page = Page::new([WIDTH_MM, height]);
    let block = page.block(Role::Drawing(String::new()));
    let x = |value: f64| NAMES + (WIDTH_MM - NAMES - 4.0) * (value.clamp(-end, end) + end) / (2.0 * end);
    let bottom = height - 7.0;
    let style = Style::plain(7.5);
    for tick in ticks(end).into_iter().flat_map(|tick| if tick == 0.0 { vec![0.0] } else { vec![-tick, tick] }) {
        block.line(
            [[x(tick), 1.0], [x(tick), bottom]],
            Pen::solid(if tick == 0.0 { 0.3 } else { 0.1 }, Grey(if tick == 0.0 { 0 } else { 190 })),
        );
        block.words_about([x(tick), bottom + 3.0], &round(tick), style);
    }
    for (row, (item, strength)) in outcome.items.iter().zip(&strengths).enumerate() {
        let y = 1.0 + (row as f64 + 0.5) * ROW;
        block.words([0.0, y + 1.0], item.name.clone(), style);
        let (low, high) = (strength.low.unwrap_or(-end), strength.high.unwrap_or(end));
        block.line([[x(low), y], [x(high), y]], Pen::solid(0.4, Grey::BLACK));
        for at in [low, high] {
            block.line([[x(at), y - 1.2], [x(at), y + 1.2]], Pen::solid(0.4, Grey::BLACK));
        }
        block.rectangle([x(strength.value) - 1.1, y - 1.1], [2.2, 2.2], Grey::BLACK);
    }
    let shapes = page.blocks.into_iter().flat_map(|block| block.shapes).collect();
    let caption = "How much the scans were liked, against the mean of all (log-odds), with 95 % intervals.".to_owned();
    Some(Figure { size_mm: [WIDTH_MM, height], words: headline(outcome), caption, shapes })
}
