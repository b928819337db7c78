//! One tone for all: looked up while drawing, by a filter that the page carries, so that moving costs nothing.

use maud::{Markup, html};
use measure::{Similarity, Tone, ToneError, TonePoints, match_tone};
use planes::{Linear, Plane, srgb_decode, srgb_encode};

use super::compared::Compared;
use crate::web::App;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::scans::{Overview, overview};

/// Longer side, pixels, of what tones are taken from.
const LOOKED_AT: u32 = 512;
/// Fewer shared pixels say nothing; the whole frames are taken then.
const LEAST_SHARED: usize = 400;
/// Points of the table; straight lines between them err by less than a step of 8 bits but next to black.
const STEPS: u32 = 64;

/// What brings one scan to the first one's tone.
pub(super) struct Toned {
    pub grey: Result<Tone, ToneError>,
    pub ends: Result<Tone, ToneError>,
}

/// One for each scan beyond the first; nothing where the pictures cannot be read.
pub(super) fn toned(app: &App, all: &[&Compared], on_each: &[Similarity]) -> Vec<Option<Toned>> {
    let look = |c: &&Compared| overview(app, &c.scan, LOOKED_AT).ok();
    let views: Vec<Option<Overview>> = all.iter().map(look).collect();
    let Some(Some(first)) = views.first() else { return views.iter().skip(1).map(|_| None).collect() };
    let others = views.iter().zip(on_each).skip(1);
    others.map(|(other, on)| Some(matched(first, other.as_ref()?, on))).collect()
}

fn matched(first: &Overview, other: &Overview, on: &Similarity) -> Toned {
    let shared = shared(first, other, on);
    let (a, b) = shared.as_ref().map_or((&first.plane, &other.plane), |(a, b)| (a, b));
    let by = |points| match_tone(a, b, points);
    Toned { grey: by(TonePoints::MiddleGrey), ends: by(TonePoints::BlackAndWhite) }
}

/// The light of both where both have the subject, as two rows of pixels.
fn shared(first: &Overview, other: &Overview, on: &Similarity) -> Option<(Plane<Linear>, Plane<Linear>)> {
    let (mut a, mut b) = (Vec::new(), Vec::new());
    for row in 0..first.plane.height() {
        for (column, light) in first.plane.row(row).iter().enumerate() {
            let at = ((column as f64 + 0.5) * first.pixel, (row as f64 + 0.5) * first.pixel);
            let (x, y) = on.to_second(at);
            let (x, y) = ((x / other.pixel).floor(), (y / other.pixel).floor());
            if x >= 0.0 && y >= 0.0 && x < other.plane.width() as f64 && y < other.plane.height() as f64 {
                a.push(*light);
                b.push(other.plane.at(x as usize, y as usize));
            }
        }
    }
    let count = a.len();
    let plane = |samples| Plane::new(count, 1, samples).ok();
    (count >= LEAST_SHARED).then(|| Some((plane(a)?, plane(b)?))).flatten()
}

/// The filters, by the names `grey-2`, `ends-2` ... of the panes; the style sheet picks them.
pub(super) fn filters(toned: &[Option<Toned>]) -> Markup {
    html! {
        svg.hidden-words width="0" height="0" aria-hidden="true" focusable="false" {
            @for (k, toned) in toned.iter().enumerate() {
                @if let Some(toned) = toned {
                    @for (name, tone) in [("grey", &toned.grey), ("ends", &toned.ends)] {
                        @if let Ok(tone) = tone { (filter(&format!("{name}-{}", k + 2), *tone)) }
                    }
                }
            }
        }
    }
}

fn filter(id: &str, tone: Tone) -> Markup {
    let table = table(tone);
    html! {
        filter id=(id) x="0" y="0" width="1" height="1" color-interpolation-filters="sRGB" {
            feComponentTransfer {
                feFuncR type="table" tableValues=(table) {}
                feFuncG type="table" tableValues=(table) {}
                feFuncB type="table" tableValues=(table) {}
            }
        }
    }
}

/// Light is decoded from sRGB, brought to the other tone, and encoded again.
fn table(tone: Tone) -> String {
    let value = |k: u32| {
        let light = srgb_decode(f64::from(k) / f64::from(STEPS));
        srgb_encode((tone.gain * light + tone.offset).clamp(0.0, 1.0))
    };
    let values: Vec<String> = (0..=STEPS).map(|k| format!("{:.4}", value(k))).collect();
    values.join(" ")
}

/// What was done to a pane, in words.
pub(super) fn words(toned: &Toned) -> [String; 2] {
    let grey = match &toned.grey {
        Ok(tone) => format!("mid-grey: {} stops", signed(tone.stops())),
        Err(error) => sentence(&error.to_string()),
    };
    let ends = match &toned.ends {
        Ok(tone) => format!(
            "black and white points: {} stops, {} % of full scale",
            signed(tone.stops()),
            signed(100.0 * tone.offset)
        ),
        Err(error) => sentence(&error.to_string()),
    };
    [grey, ends]
}

fn signed(value: f64) -> String {
    let sign = if value < 0.0 { "−" } else { "+" };
    format!("{sign}{}", fmt::figure(value.abs(), 2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn a_stop_more_light_goes_through_the_table() {
        let table = table(Tone { gain: 2.0, offset: 0.0 });
        let values: Vec<f64> = table.split(' ').map(|v| v.parse().unwrap_or(f64::NAN)).collect();
        assert_eq!(values.len(), 65);
        // Halfway up, sRGB 0.5 is 0.2140 of the light (IEC 61966-2-1); twice that is 0.4281, sRGB 0.6858.
        assert_close!(values[32], 0.6858, absolute = 1e-3);
        assert_close!(values[64], 1.0, absolute = 0.0);
    }

    #[test]
    fn tones_are_taken_where_both_have_the_subject() {
        let view = |from: usize| Overview {
            plane: Plane::from_fn(40, 40, |x, _| if x + from < 40 { 0.1 } else { 0.4 }).expect("plane"),
            pixel: 1.0,
        };
        // The second begins 20 columns farther to the right and was given twice the light.
        let mut second = view(20);
        second.plane = Plane::from_fn(40, 40, |x, y| 2.0 * second.plane.at(x, y)).expect("plane");
        let on = Similarity::new(1.0, 0.0, (-20.0, 0.0), false);
        let toned = matched(&view(0), &second, &on);
        assert_close!(toned.grey.expect("tone").stops(), -1.0, absolute = 1e-6);
    }
}
