//! What a file says of itself.

use imaging::Info;
use maud::{Markup, html};

use crate::web::fmt;

pub(super) fn shown(info: &Info) -> Markup {
    let by = [&info.maker, &info.model].into_iter().flatten().map(String::as_str).collect::<Vec<_>>().join(" ");
    html! {
        section.detail aria-labelledby="header" {
            h2 id="header" { "What the file says" }
            dl.facts {
                dt { "Form" }
                dd { (info.format) ", " (info.bits) " bits" @if info.floating { " floating point" } @if info.colour == imaging::Colour::Grey { ", grey" } @else { ", colour" } }
                @if let Some(pitch) = info.pitch_um { dt { "Resolution" } dd { (fmt::figure(25_400.0 / pitch, 4)) " dpi, " (fmt::figure(pitch, 3)) " µm from pixel to pixel" } }
                @if !by.is_empty() { dt { "Scanner or camera" } dd { (by) } }
                @if let Some(software) = &info.software { dt { "Program" } dd { (software) } }
                @if let Some(moment) = info.moment { dt { "Date and time" } dd { (moment) } }
                dt { "Colour profile" }
                dd { @match &info.profile { Some(profile) if !profile.description.is_empty() => (profile.description), Some(_) => "embedded, without a name", None => "none: sRGB is assumed" } }
            }
        }
    }
}
