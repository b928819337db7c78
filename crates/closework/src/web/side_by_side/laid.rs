//! How the scans are laid over each other: by the card, by two picked details, by what they show, or middle on middle.

use measure::{AlignError, AlignRemark, Aligned, Similarity, align_by_cards, align_by_points};

use super::compared::Compared;
use crate::documents::LaidDocument;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::scans::Still;

/// A pick on the screen is good to so many pixels of the screen; enlarged to true pixels it is this many of the scan (common practice, no
/// source).
const PICK_PX: f64 = 2.0;
/// Half-width of a mapped place of the card, pixels: its marks scatter by less.
const CARD_PX: f64 = 0.3;
/// The part of the card, of its smaller side, over which two frames of it are compared.
const CARD_SHARE: f64 = 0.6;

/// What the scans are laid by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    /// Two details that a person picked in each.
    Points,
    /// The printed card.
    Card,
    /// What they show.
    Picture,
    /// The middles of the frames.
    Middles,
}

impl Way {
    /// In the order in which they are preferred.
    pub(super) const ALL: [Self; 4] = [Self::Points, Self::Card, Self::Picture, Self::Middles];

    /// Its word in addresses.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Points => "points",
            Self::Card => "card",
            Self::Picture => "picture",
            Self::Middles => "middles",
        }
    }

    /// In words, after "laid over each other by".
    pub(super) fn label(self) -> &'static str {
        match self {
            Self::Points => "two picked details",
            Self::Card => "the card",
            Self::Picture => "what they show",
            Self::Middles => "the middles of the frames",
        }
    }
}

/// The scans laid over the first.
pub(super) struct Laid {
    pub way: Way,
    /// From the first scan's pixels to each scan's.
    pub on_each: Vec<Similarity>,
    /// True when sizes are alike on the subject.
    pub scaled: bool,
    /// What is to be said of it, a sentence for each scan beyond the first.
    pub notes: Vec<String>,
}

impl Laid {
    /// How one picture lies in the plane of the first, of which all pictures of these sizes (pixels) are in sight: as the script draws it
    /// when nothing was moved yet.
    pub(super) fn still(&self, sizes: &[(f64, f64)], index: usize) -> Still {
        let corners = |(width, height): (f64, f64)| [(0.0, 0.0), (width, 0.0), (0.0, height), (width, height)];
        let on_first = |(on, size): (&Similarity, &(f64, f64))| corners(*size).map(|corner| on.to_first(corner));
        let seen: Vec<(f64, f64)> = self.on_each.iter().zip(sizes).flat_map(on_first).collect();
        let least = |of: fn(&(f64, f64)) -> f64| seen.iter().map(of).fold(f64::INFINITY, f64::min);
        let most = |of: fn(&(f64, f64)) -> f64| seen.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        let (left, top) = (least(|p| p.0), least(|p| p.1));
        let sight = [left, top, most(|p| p.0) - left, most(|p| p.1) - top];
        let [origin, x, y] = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)].map(|at| self.on_each[index].to_first(at));
        let matrix = [x.0 - origin.0, x.1 - origin.1, y.0 - origin.0, y.1 - origin.1, origin.0, origin.1];
        Still { sight: sight.map(written), matrix: matrix.map(written) }
    }
}

/// To a millionth: less than a pixel at the far end of any picture.
fn written(number: f64) -> f64 {
    // Nothing below 0 is 0 as well.
    (number * 1e6).round() / 1e6 + 0.0
}

/// By the wanted way, or by the best that is there.
pub(super) fn laid(all: &[&Compared], wanted: Option<Way>) -> Laid {
    let ways = Way::ALL.into_iter().filter(|way| wanted.is_none_or(|wanted| wanted == *way));
    ways.filter_map(|way| by(way, all)).next().unwrap_or_else(|| by_middles(all))
}

/// The ways that these scans can be laid by, with those that fail left out.
pub(super) fn possible(all: &[&Compared]) -> Vec<Way> {
    Way::ALL.into_iter().filter(|way| by(*way, all).is_some()).collect()
}

fn by(way: Way, all: &[&Compared]) -> Option<Laid> {
    match way {
        Way::Points => by_each(way, all, by_points),
        Way::Card => by_each(way, all, by_card),
        Way::Picture => by_each(way, all, by_picture),
        Way::Middles => Some(by_middles(all)),
    }
}

/// Every scan on the first, or nothing when one cannot be.
fn by_each(
    way: Way,
    all: &[&Compared],
    lay: impl Fn(&Compared, &Compared) -> Option<(Similarity, String)>,
) -> Option<Laid> {
    let (first, others) = all.split_first()?;
    let found: Vec<(Similarity, String)> = others.iter().map(|other| lay(first, other)).collect::<Option<_>>()?;
    let (mut on_each, mut notes) = (vec![unmoved()], Vec::new());
    for (k, (similarity, note)) in found.into_iter().enumerate() {
        on_each.push(similarity);
        notes.push(format!("{} on 1: {note}", k + 2));
    }
    Some(Laid { way, on_each, scaled: true, notes })
}

fn unmoved() -> Similarity {
    Similarity::new(1.0, 0.0, (0.0, 0.0), false)
}

fn by_points(first: &Compared, other: &Compared) -> Option<(Similarity, String)> {
    let (a, b) = (first.placing.points.as_ref()?, other.placing.points.as_ref()?);
    if a.set != b.set {
        return None;
    }
    let pair = |k: usize| (a.at_px[k].into(), b.at_px[k].into());
    let aligned = align_by_points([pair(0), pair(1)], PICK_PX, a.mirrored != b.mirrored).ok()?;
    Some((aligned.similarity, note(&aligned)))
}

fn by_card(first: &Compared, other: &Compared) -> Option<(Similarity, String)> {
    card_aligned(first, other)?.ok().map(|aligned| {
        let note = note(&aligned);
        (aligned.similarity, note)
    })
}

/// By the sheet that both show of one and the same card.
fn card_aligned(first: &Compared, other: &Compared) -> Option<Result<Aligned, AlignError>> {
    let (a, b) = (first.whole.as_ref()?.card.as_ref()?, other.whole.as_ref()?.card.as_ref()?);
    if a.identity != b.identity {
        return None;
    }
    let shared = a.sheets.iter().find_map(|sheet| {
        let same = b.sheets.iter().find(|other| other.part == sheet.part)?;
        Some((sheet.mapping?, same.mapping?))
    })?;
    let side = CARD_SHARE * a.field_mm[0].min(a.field_mm[1]);
    Some(align_by_cards((&shared.0.into(), &shared.1.into()), (side, side), CARD_PX))
}

fn by_picture(first: &Compared, other: &Compared) -> Option<(Similarity, String)> {
    let on = |of: &Compared, on: &Compared| of.placing.pictures.iter().find(|laid| laid.on == on.scan.id.0).cloned();
    if let Some(laid) = on(other, first) {
        return Some((of_document(&laid), picture_note(&laid)));
    }
    on(first, other).map(|laid| (of_document(&laid).inverted(), picture_note(&laid)))
}

fn of_document(laid: &LaidDocument) -> Similarity {
    Similarity::new(laid.scale.value, laid.turn_deg.value, laid.origin_px.into(), laid.mirrored)
}

fn picture_note(laid: &LaidDocument) -> String {
    let mut words = format!(
        "turned by {}, places sure to ± {} px in the middle, detail alike to {}",
        fmt::measured_with(laid.turn_deg.value, Some(laid.turn_deg.plus_minus), "°"),
        fmt::figure(laid.place_plus_minus_px, 2),
        fmt::figure(laid.likeness, 2),
    );
    if laid.mirrored {
        words += ", mirrored";
    }
    laid.warnings.iter().for_each(|warning| words += &format!("; {warning}"));
    words + "."
}

fn note(aligned: &Aligned) -> String {
    let turn = fmt::measured_with(aligned.turn_deg.value, Some(aligned.turn_deg.plus_minus), "°");
    let mut words = format!("turned by {turn}");
    if aligned.similarity.is_mirrored() {
        words += ", mirrored";
    }
    aligned.remarks.iter().for_each(|remark| words += &format!("; {}", remark_words(*remark)));
    words + "."
}

/// A reservation in words, without a full stop.
pub(super) fn remark_words(remark: AlignRemark) -> String {
    match remark {
        AlignRemark::Apart { most_px } => {
            let px = fmt::figure(most_px, 2);
            format!(
                "the two look at it from different sides, or through different distortion, and stay up to {px} px apart"
            )
        }
        AlignRemark::ScaleOff { found, expected } => {
            let relative = (found.plus_minus / found.value).hypot(expected.plus_minus / expected.value);
            let percent = 100.0 * (found.value / expected.value - 1.0);
            let off = fmt::measured_with(percent, Some(100.0 * relative), "%");
            format!(
                "by the picture its scale is off by {off} from magnification and pitch: one of these is wrong in one of the two"
            )
        }
    }
}

/// Middle on middle, at one size of the subject where that is known.
fn by_middles(all: &[&Compared]) -> Laid {
    let scaled = all.iter().all(|c| c.px_per_mm.is_some());
    let on = |c: &&Compared| {
        let first = all[0];
        let per_mm = |c: &Compared| c.px_per_mm.map(|(px, _)| px);
        let scale = per_mm(c).zip(per_mm(first)).filter(|_| scaled).map_or(1.0, |(own, first)| own / first);
        let (from, to) = (first.middle(), c.middle());
        Similarity::new(scale, 0.0, (to.0 - scale * from.0, to.1 - scale * from.1), false)
    };
    Laid { way: Way::Middles, on_each: all.iter().map(on).collect(), scaled, notes: Vec::new() }
}

/// Why the card does not lay these scans over each other, where two of them show it.
pub(super) fn card_trouble(all: &[&Compared]) -> Option<String> {
    let (first, others) = all.split_first()?;
    let error = others.iter().find_map(|other| card_aligned(first, other)?.err())?;
    Some(sentence(&error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_way_has_a_word_of_its_own() {
        let mut words: Vec<_> = Way::ALL.iter().map(|way| way.word()).collect();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), Way::ALL.len());
    }

    #[test]
    fn a_still_lies_where_its_detail_does() {
        // A quarter turn, twice as large and off by (10, 20): (0, 0) of the first is (10, 20) of the second, and (100, 0) is (10, 220).
        let on = Similarity::new(2.0, 90.0, (10.0, 20.0), false);
        let laid = Laid { way: Way::Points, on_each: vec![unmoved(), on], scaled: true, notes: vec![] };
        let sizes = [(100.0, 80.0), (210.0, 420.0)];
        let still = laid.still(&sizes, 1);
        let on_first = |x: f64, y: f64| {
            let [a, b, c, d, e, f] = still.matrix;
            [a * x + c * y + e, b * x + d * y + f]
        };
        for ([x, y], [u, v]) in [([10.0, 20.0], [0.0, 0.0]), ([10.0, 220.0], [100.0, 0.0]), ([0.0, 20.0], [0.0, 5.0])] {
            let found = on_first(x, y);
            testkit::assert_close!(found[0], u, absolute = 1e-3);
            testkit::assert_close!(found[1], v, absolute = 1e-3);
        }
        // In sight: the second reaches from (−10, −100) to (200, 5) of the first, which reaches from (0, 0) to (100, 80).
        for (found, expected) in still.sight.into_iter().zip([-10.0, -100.0, 210.0, 180.0]) {
            testkit::assert_close!(found, expected, absolute = 1e-3);
        }
        assert_eq!(laid.still(&sizes, 0).matrix, [1.0, 0.0, 0.0, 1.0, 0.0, 0.0]);
    }

    #[test]
    fn a_mirrored_still_is_mirrored() {
        let on = Similarity::new(1.0, 0.0, (100.0, 0.0), true);
        let laid = Laid { way: Way::Points, on_each: vec![unmoved(), on], scaled: true, notes: vec![] };
        let [a, _, _, d, e, f] = laid.still(&[(100.0, 80.0); 2], 1).matrix;
        // Left and right exchanged, up and down not: (0, 0) of the second is (100, 0) of the first.
        assert_eq!([a, d, e, f], [-1.0, 1.0, 100.0, 0.0]);
    }
}
