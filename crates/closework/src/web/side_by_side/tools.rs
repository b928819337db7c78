//! What can be done with the panes. What needs the script is hidden until `side.js` wakes it; the choice of tone works without.

use maud::{Markup, html};

use super::address;
use super::compared::Compared;
use super::laid::{self, Laid, Way};
use super::panes::ids;
use super::tone::Toned;
use crate::web::scans::zoom_buttons;

/// Above the panes: tone, and beside or over each other.
pub(super) fn above(all: &[&Compared], toned: &[Option<Toned>]) -> Markup {
    html! {
        div.tools {
            fieldset {
                legend { "Tone" }
                (choice("tone", "none", "as scanned", true, false))
                (choice("tone", "grey", "one mid-grey", false, !can(toned, |t| t.grey.is_ok())))
                (choice("tone", "ends", "black and white points", false, !can(toned, |t| t.ends.is_ok())))
            }
            fieldset.waking hidden {
                legend { "View" }
                (choice("view", "beside", "beside", true, false))
                (choice("view", "wipe", "wipe", false, false))
                (choice("view", "blink", "blink", false, false))
                (choice("view", "difference", "difference", false, false))
            }
            @if all.len() > 2 {
                label.over.waking hidden { "over 1 lies " select name="over" { @for k in 2..=all.len() { option value=(k) { (k) } } } }
            }
        }
    }
}

/// Below the panes: sizes, pointer, nearer and farther.
fn moving(laid: &Laid, film: bool) -> Markup {
    html! {
        div.tools {
            output.where aria-live="polite" {}
            div.zoom {
                (zoom_buttons())
                button.quiet type="button" data-sharpest { "Each at its sharpest" }
                button.quiet type="button" data-undo { "Undo moving apart" }
            }
            fieldset {
                legend { "Show at" }
                (choice("size", "subject", "one size of subject", laid.scaled, !laid.scaled))
                (choice("size", "pixels", "pixel for pixel", !laid.scaled, false))
                (choice("size", "frame", "one width of frame", false, false))
                (choice("size", "film", "one size on film", false, !film))
            }
            fieldset {
                legend { "Loupe" }
                (choice("loupe", "off", "none", true, false))
                (choice("loupe", "film", "as on film", false, !film))
                (choice("loupe", "print", "as in a print", false, false))
            }
            fieldset {
                legend { "Pointer" }
                (choice("tool", "move", "Move", true, false))
                (choice("tool", "mark", "Mark", false, false))
                (choice("tool", "line-up", "One detail", false, false))
                (choice("tool", "two", "Two details", false, false))
            }
        }
    }
}

fn can(toned: &[Option<Toned>], good: impl Fn(&Toned) -> bool) -> bool {
    toned.iter().flatten().any(good)
}

fn choice(name: &str, value: &str, words: &str, checked: bool, disabled: bool) -> Markup {
    html! { label { input type="radio" name=(name) value=(value) checked[checked] disabled[disabled]; span { (words) } } }
}

const HELP: &str = "Drag, wheel, pinch, arrows, plus and minus move all as one; 0 shows the whole, 1 true pixels. Shift with a drag or an \
                    arrow moves one alone. L takes the loupe and lays it away; arrows then move it. W wipes (comma and full stop move the line), B blinks to the next, D shows the difference, S sets \
                    them beside each other again.";

/// Below the panes: the wipe's line, how to move, the loupe, what the keys do.
pub(super) fn below(all: &[&Compared], laid: &Laid) -> Markup {
    let film = all.iter().all(|c| c.scan.pitch_um.is_some());
    html! {
        div.waking hidden {
            label.wipe-line hidden { "Line of the wipe" input type="range" name="line" min="0" max="100" step="0.5" value="50"; }
            div.blinking hidden {
                button type="button" data-next { "The next (B)" }
                label.check { input type="checkbox" name="by-itself"; " by itself, once a second" }
                output aria-live="polite" data-front {}
            }
            (moving(laid, film))
            p.small.loupe-words role="status" {}
            (loupe(all, film))
            p.small.soft { (HELP) }
        }
        noscript { p.small.soft {
            "Without scripts the pictures stand still, laid over each other as said below"
            @if laid.scaled { ", at one size of the subject" }
            ". Moving, the loupe, wipe, blink and difference need scripts."
        } }
    }
}

/// What the loupe shows, and how large this screen is.
fn loupe(all: &[&Compared], film: bool) -> Markup {
    html! {
        details.loupe {
            summary { "Sizes in the loupe, and the size of this screen" }
            div.loupe-parts {
                div {
                    h3 { "As on film" }
                    @if film {
                        p { "As the film itself under a loupe of " input type="number" name="film-times" value="10" min="1" max="100" aria-label="How many times"; " times." }
                        div.actions { button.quiet type="button" data-whole="film" { "The whole view so" } }
                    } @else {
                        input type="hidden" name="film-times" value="10";
                        p { "This takes the pitch of every scan: " @for c in all.iter().filter(|c| c.scan.pitch_um.is_none()) { a href=(format!("/scans/{}", c.scan.id)) { (c.scan.file_name) } " " } }
                    }
                }
                div {
                    h3 { "As in a print" }
                    p.print-sizes {
                        "As seen in a print " input type="number" name="print-cm" value="30" min="5" max="300" aria-label="Width of the print, cm"; " cm wide at "
                        input type="number" name="distance-cm" value="40" min="10" max="500" aria-label="Distance from the print, cm"; " cm, with the eye "
                        input type="number" name="eye-cm" value="60" min="10" max="300" aria-label="Distance of the eye from the screen, cm"; " cm from the screen."
                    }
                    div.actions { button.quiet type="button" data-whole="print" { "The whole view so" } }
                }
                div {
                    h3 { "This screen" }
                    p { "Hold the short side of a bank card (53.98 mm, ISO/IEC 7810 ID-1) or a ruler against the line, and make them equally long." }
                    div.screen-line {}
                    label { "Longer, shorter " input type="range" name="line-px" min="60" max="340" step="1" value="204"; }
                    label { "Its length then, mm " input type="number" name="line-mm" min="10" max="300" step="0.01" value="53.98" inputmode="decimal"; }
                    p.small.screen-words role="status" {}
                }
            }
        }
    }
}

/// How they are laid over each other, and how else they could be.
pub(super) fn laying(all: &[&Compared], laid: &Laid) -> Markup {
    let possible = laid::possible(all);
    html! {
        section aria-labelledby="laying" {
            h2 id="laying" { "Laid over each other by " (laid.way.label()) }
            @if laid.notes.is_empty() {
                p { "Turn and place are as scanned: the middles of the frames lie on each other" @if laid.scaled { ", at one size of the subject by magnification and pitch" } "." }
            } @else {
                ul { @for note in &laid.notes { li { (note) } } }
            }
            @if possible.len() > 1 {
                p { "Also: " @for (k, way) in possible.iter().filter(|way| **way != laid.way).enumerate() {
                    @if k > 0 { " · " }
                    a href=(address(&ids(all), Some(*way))) { "by " (way.label()) }
                } "." }
            }
            div.columns {
                form.live method="post" action="/side-by-side/automatic" {
                    @for c in all { input type="hidden" name="scan" value=(c.scan.id); }
                    h3 { "By what they show" }
                    p { "Looks for the first picture in the others at every turn and place, then fits scale, turn and place. It takes some seconds and refuses what is not alike." }
                    div.actions { button disabled[!scaled(all)] { "Lay them over each other" } }
                    @if !scaled(all) { p.small { "The size of the subject has to be known in each first." } }
                }
                (by_points(all))
            }
        }
    }
}

fn scaled(all: &[&Compared]) -> bool {
    all.iter().all(|c| c.px_per_mm.is_some())
}

/// The two details as numbers: filled in by the script, or by hand.
fn by_points(all: &[&Compared]) -> Markup {
    let current = laid::laid(all, Some(Way::Points));
    let kept = current.way == Way::Points;
    html! {
        form.live.points method="post" action="/side-by-side/points" {
            @for c in all { input type="hidden" name="scan" value=(c.scan.id); }
            h3 { "By two picked details" }
            p { "Choose “Two details” below the pictures and click detail A, then detail B, in each; far apart, the same two everywhere. Or type their places, in pixels of the scan from its upper left corner." }
            div.scroll tabindex="0" role="region" aria-label="Places of the two details" {
                table {
                    thead { tr { th scope="col" { "Picture" } th scope="col" { "A: x" } th scope="col" { "A: y" } th scope="col" { "B: x" } th scope="col" { "B: y" } th scope="col" { "mirrored" } } }
                    tbody { @for (k, c) in all.iter().enumerate() {
                        @let points = c.placing.points.as_ref().filter(|_| kept);
                        tr {
                            th scope="row" { (k + 1) }
                            @for (detail, axis, value) in [("a", "x", points.map(|p| p.at_px[0][0])), ("a", "y", points.map(|p| p.at_px[0][1])), ("b", "x", points.map(|p| p.at_px[1][0])), ("b", "y", points.map(|p| p.at_px[1][1]))] {
                                td { input.place type="text" inputmode="decimal" name=(format!("{detail}{axis}{}", k + 1)) value=[value.map(|v| format!("{v:.1}"))] aria-label=(format!("Picture {}, detail {}, {axis}", k + 1, detail.to_uppercase())); }
                            }
                            td { @if k > 0 { input type="checkbox" name=(format!("mirrored{}", k + 1)) checked[points.is_some_and(|p| p.mirrored)] aria-label=(format!("Picture {} is mirrored against the first", k + 1)); } }
                        }
                    } }
                }
            }
            div.actions { button { "Lay them so" } }
        }
    }
}
