//! What each part is good for, and the cheapest kit.

use maud::{Markup, html};

use super::shown::capital;
use crate::documents::verdict::{ChosenKit, JudgedPart, VerdictDocument, WorldShares};
use crate::verdict::judged::{chance, figure_words};
use crate::verdict::money::sum_with;

pub(super) fn section(document: &VerdictDocument) -> Markup {
    let (Some(kit), Some(worlds)) = (&document.kit, &document.worlds) else { return html! {} };
    html! {
        section aria-labelledby="parts" {
            h2 id="parts" { "Part by part" }
            (cheapest(document, kit, worlds))
            div.scroll tabindex="0" role="region" aria-labelledby="parts" {
                table.stacked {
                    thead { tr {
                        th scope="col" { "Part" } th scope="col" { "In the cheapest kit" } th.n scope="col" { "In so many worlds" }
                        th scope="col" { "Without it" } th.n scope="col" { "Price" }
                    } }
                    tbody { @for part in document.parts.iter().filter(|part| part.owned) { (row(document, part)) } }
                }
            }
            @if !kit.untried.is_empty() {
                p.soft { "In no set-up that was tried, so that nothing is said of them: " (kit.untried_names.join(", ")) "." }
            }
        }
    }
}

fn cheapest(document: &VerdictDocument, kit: &ChosenKit, worlds: &WorldShares) -> Markup {
    let money = |amount, plus_minus| sum_with(amount, plus_minus, &document.money.currency);
    html! {
        @if kit.parts.is_empty() {
            p { "No kit: nothing that is owned serves any use, so there is nothing to keep for one." }
        } @else {
            p {
                "The cheapest kit that still serves" @if open(document) { ", or may serve, " } @else { " " } @if kit.unserved.is_empty() { "every use" } @else { "what can be served" } ": "
                (names(document, &kit.parts)) "."
                @if kit.worth > 0.0 { " It ties up " (money(kit.worth, kit.worth_plus_minus)) @if !kit.unpriced.is_empty() { ", besides what has no price" } "." }
                @if kit.would_bring > 0.0 && document.whole_drawer { " The rest of what was tried would bring " (money(kit.would_bring, kit.would_bring_plus_minus)) "." }
            }
            p.soft {
                "Drawn from the doubts " (worlds.drawn) " times, the same kit comes out as the cheapest in " (chance(worlds.same_kit))
                " of the worlds, and loses nothing in " (chance(worlds.nothing_lost)) "."
            }
        }
    }
}

/// Whether the kit is kept for a use of which nothing is sure yet.
fn open(document: &VerdictDocument) -> bool {
    document.uses.iter().any(|standing| standing.standing.as_deref() == Some("perhaps"))
}

fn names(document: &VerdictDocument, ids: &[String]) -> String {
    let name =
        |id: &String| document.parts.iter().find(|part| part.id == *id).map_or(id.clone(), |part| part.name.clone());
    ids.iter().map(name).collect::<Vec<_>>().join(", ")
}

fn row(document: &VerdictDocument, part: &JudgedPart) -> Markup {
    html! {
        tr id=(format!("part-{}", part.id)) {
            th scope="row" { (part.name) }
            td data-label="in the cheapest kit" { @if part.kept { "yes" } @else { "no" } }
            td.n data-label="in so many worlds" { @if let Some(share) = part.kept_share { (chance(share)) } }
            td data-label="without it" { (without(document, part)) }
            td.n data-label="price" { @match part.price { Some(price) => (sum_with(price, part.price_plus_minus, &document.money.currency)), None => a href="/verdict#prices" { "not known" } } }
        }
    }
}

fn without(document: &VerdictDocument, part: &JudgedPart) -> Markup {
    let title = |id: &str| {
        document.uses.iter().find(|standing| standing.id == id).map_or(id.to_owned(), |standing| standing.title.clone())
    };
    let set_up = |id: &str| {
        document.set_ups.iter().find(|set_up| set_up.id == id).map_or(String::new(), |set_up| set_up.name.clone())
    };
    let nothing = part.lost.is_empty() && part.weakened.is_empty();
    html! {
        @if nothing { "nothing that is surely served would be lost" }
        @for lost in &part.lost {
            p {
                (capital(&title(&lost.use_id))) " would be lost"
                @if let (Some(nearest), Some(finding)) = (&lost.nearest, &lost.finding) {
                    @if let Some(standing) = document.uses.iter().find(|standing| standing.id == lost.use_id) {
                        "; nearest comes " (set_up(nearest)) " with " (figure_words(&standing.limits[finding.limit], finding))
                    }
                }
                "."
            }
        }
        @for weaker in &part.weakened {
            p { (capital(&title(&weaker.use_id))) " would go on with " (set_up(&weaker.to)) " (" (chance(weaker.probability[1])) " instead of " (chance(weaker.probability[0])) ")." }
        }
    }
}
