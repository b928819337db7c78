//! From what scans show to the figures of a set-up: frames pooled, everything brought to the subject.

use std::collections::BTreeMap;

use optics::{COVERAGE_95, Estimate};
use verdict::enough::{Bound, Cause, Figure, Quantity};

use super::observed::{Observed, Sharpness};

/// A figure with its place in words.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The figure, on the subject; its evidence are addresses of pages.
    pub figure: Figure,
    /// "corner, sagittal (top right)"; empty for the whole frame.
    pub place: String,
}

/// What one scan says of one figure.
#[derive(Debug, Clone, PartialEq)]
struct Sample {
    value: f64,
    own: f64,
    /// The scale's name and its effect.
    shared: (String, f64),
    only: Option<Bound>,
    page: String,
}

/// All measured figures of a set-up that any use asks for.
pub fn measured(scans: &[&Observed], wanted: &[Quantity], frame_short_mm: Option<f64>) -> Vec<Placed> {
    let mut all = Vec::new();
    for quantity in wanted {
        match *quantity {
            Quantity::Resolution { contrast } => {
                all.extend(sharp(scans, *quantity, &|seen, scan| resolution_sample(seen, scan, contrast)));
            }
            Quantity::Contrast { lp_mm } => {
                all.extend(sharp(scans, *quantity, &|seen, scan| contrast_sample(seen, scan, lp_mm)));
            }
            Quantity::Fringing => all.extend(fringing(scans)),
            Quantity::Glare => all.extend(whole(scans, *quantity, &|scan| scan.glare.as_ref())),
            Quantity::Unevenness => all.extend(whole(scans, *quantity, &|scan| scan.unevenness.as_ref())),
            Quantity::Field => all.extend(frame_short_mm.and_then(|short_mm| field(scans, short_mm))),
            Quantity::Magnification => all.extend(magnification(scans)),
            _ => {}
        }
    }
    all
}

/// The figure at the weakest place of each zone and way: the eye goes to the worst corner.
fn sharp(
    scans: &[&Observed],
    quantity: Quantity,
    sample: &dyn Fn(&Sharpness, &Observed) -> Option<Sample>,
) -> Vec<Placed> {
    type Place<'a> = (&'a str, &'a str, &'a str);
    let mut places: BTreeMap<Place<'_>, (Vec<Sample>, Vec<f64>)> = BTreeMap::new();
    for (scan, seen) in scans.iter().flat_map(|scan| scan.sharpness.iter().map(move |seen| (scan, seen))) {
        if let Some(found) = sample(seen, scan) {
            let slot = places.entry((&seen.zone, &seen.way, &seen.place)).or_default();
            slot.0.push(found);
            slot.1.push(seen.at);
        }
    }
    let mut weakest: BTreeMap<(&str, &str), Placed> = BTreeMap::new();
    for ((zone, way, place), (samples, at)) in places {
        let at = at.iter().sum::<f64>() / at.len() as f64;
        let name = if zone == place { format!("{zone}, {way}") } else { format!("{place}, {way}") };
        let Some(figure) = pooled(quantity, Some(at), &samples) else { continue };
        let weaker = weakest.get(&(zone, way)).is_none_or(|known| figure.value < known.figure.value);
        if weaker {
            weakest.insert((zone, way), Placed { figure, place: name });
        }
    }
    weakest.into_values().collect()
}

/// Where the contrast falls to a share for the first time, on the subject.
fn resolution_sample(seen: &Sharpness, scan: &Observed, contrast: f64) -> Option<Sample> {
    let (cy_px, own, only) = resolution(&seen.curve, contrast)?;
    let scale = scan.px_per_mm();
    let value = cy_px * scale;
    let shared = (scan.scale_doubt(), value * scan.scale_share());
    Some(Sample { value, own: own * scale, shared, only, page: seen.page.clone() })
}

/// Finer than this a scan cannot show (the sampling theorem), cycles per pixel.
pub const NYQUIST_CY_PX: f64 = 0.5;

/// The frequency at which a curve falls to `contrast` for the first time, with the half-width that follows from where the ends of its
/// intervals do; a curve that never does gives a bound.
fn resolution(curve: &[[f64; 3]], contrast: f64) -> Option<(f64, f64, Option<Bound>)> {
    let shown: Vec<[f64; 3]> = curve.iter().copied().filter(|[f, ..]| *f <= NYQUIST_CY_PX).collect();
    let end = shown.last()?[0];
    let Some(at) = crossing(&shown, contrast, 0.0) else { return Some((end, 0.0, Some(Bound::AtLeast))) };
    let low = crossing(&shown, contrast, -1.0).unwrap_or(at);
    let high = crossing(&shown, contrast, 1.0).unwrap_or(end);
    Some((at, (high - at).max(at - low), None))
}

/// Where response plus so many half-widths first falls below, by straight lines.
fn crossing(curve: &[[f64; 3]], contrast: f64, half_widths: f64) -> Option<f64> {
    let height = |[_, response, half]: [f64; 3]| response + half_widths * half;
    let below = curve.iter().position(|point| height(*point) < contrast)?;
    let Some(above) = below.checked_sub(1) else { return Some(curve[0][0]) };
    let (upper, lower) = (height(curve[above]), height(curve[below]));
    let share = (upper - contrast) / (upper - lower);
    Some(curve[above][0] + share * (curve[below][0] - curve[above][0]))
}

/// Contrast left at a fineness on the subject; nothing where the scan does not show it.
fn contrast_sample(seen: &Sharpness, scan: &Observed, lp_mm: f64) -> Option<Sample> {
    let cy_px = lp_mm / scan.px_per_mm();
    let at = |f: f64| crate::documents::on_curve(seen.curve.len(), |i| seen.curve[i], f);
    if cy_px > NYQUIST_CY_PX {
        return None;
    }
    let (value, own) = at(cy_px)?;
    // The larger the scale the coarser the structure in the scan, and the more of it is left.
    let beside = at((cy_px * (1.0 + scan.scale_share())).min(NYQUIST_CY_PX)).map_or(0.0, |(there, _)| value - there);
    Some(Sample { value, own, shared: (scan.scale_doubt(), beside), only: None, page: seen.page.clone() })
}

/// Fringing on the subject by place, the scans of each place pooled.
fn fringing(scans: &[&Observed]) -> Vec<Placed> {
    let mut places: BTreeMap<&str, (Vec<Sample>, Vec<f64>)> = BTreeMap::new();
    for (scan, fringe) in scans.iter().flat_map(|scan| scan.fringes.iter().map(move |fringe| (scan, fringe))) {
        let m = scan.magnification.value;
        let value = fringe.um.value / m;
        let shared = (scan.scale_doubt(), -value * scan.scale_share());
        let slot = places.entry(&fringe.place).or_default();
        slot.0.push(Sample { value, own: fringe.um.plus_minus / m, shared, only: None, page: fringe.page.clone() });
        slot.1.push(fringe.at);
    }
    let placed = places.into_iter().filter_map(|(place, (samples, at))| {
        let at = at.iter().sum::<f64>() / at.len() as f64;
        Some(Placed { figure: pooled(Quantity::Fringing, Some(at), &samples)?, place: place.into() })
    });
    placed.collect()
}

/// A figure of the whole frame.
fn whole<'a>(
    scans: &[&'a Observed],
    quantity: Quantity,
    of: &dyn Fn(&'a Observed) -> Option<&'a super::observed::Whole>,
) -> Option<Placed> {
    let sample = |scan: &&'a Observed| {
        let whole = of(scan)?;
        let Estimate { value, plus_minus } = whole.figure;
        let shared = (scan.scale_doubt(), 0.0);
        Some(Sample { value, own: plus_minus, shared, only: whole.only, page: whole.page.clone() })
    };
    let samples: Vec<Sample> = scans.iter().filter_map(sample).collect();
    Some(Placed { figure: pooled(quantity, None, &samples)?, place: String::new() })
}

/// The shorter side of the field, from the measured magnification.
fn field(scans: &[&Observed], frame_short_mm: f64) -> Option<Placed> {
    of_scale(scans, Quantity::Field, &|m| (frame_short_mm / m, -frame_short_mm / m))
}

fn magnification(scans: &[&Observed]) -> Option<Placed> {
    of_scale(scans, Quantity::Magnification, &|m| (m, m))
}

/// A figure that follows from the magnification, with its change for the whole of it.
fn of_scale(scans: &[&Observed], quantity: Quantity, of: &dyn Fn(f64) -> (f64, f64)) -> Option<Placed> {
    let sample = |scan: &&&Observed| {
        let (value, slope) = of(scan.magnification.value);
        let shared = (scan.scale_doubt(), slope * scan.scale_share());
        Sample { value, own: 0.0, shared, only: None, page: format!("/scans/{}", scan.scan.id) }
    };
    let samples: Vec<Sample> = scans.iter().filter(|scan| scan.seen).map(|scan| sample(&scan)).collect();
    Some(Placed { figure: pooled(quantity, None, &samples)?, place: String::new() })
}

/// Several scans' figures of one thing: their mean. Its half-width is the larger of what each one's own says and of what their scatter
/// says (Birge, "The calculation of errors by the method of least squares", *Physical Review* 40 (1932), 207-227, from memory). A
/// scale's doubt counts by its share of the mean. Bounds count only where there is nothing else, and then the weakest of them.
fn pooled(quantity: Quantity, at: Option<f64>, samples: &[Sample]) -> Option<Figure> {
    let figures: Vec<&Sample> = samples.iter().filter(|sample| sample.only.is_none()).collect();
    if figures.is_empty() {
        return bound(quantity, at, samples);
    }
    let n = figures.len() as f64;
    let value = figures.iter().map(|sample| sample.value).sum::<f64>() / n;
    let inner = figures.iter().map(|sample| sample.own.powi(2)).sum::<f64>().sqrt() / n;
    let squares = figures.iter().map(|sample| (sample.value - value).powi(2)).sum::<f64>();
    let outer = if n > 1.0 { COVERAGE_95 * (squares / (n - 1.0) / n).sqrt() } else { 0.0 };
    let mut shared: Vec<Cause> = Vec::new();
    for (name, plus_minus) in figures.iter().map(|sample| (&sample.shared.0, sample.shared.1 / n)) {
        match shared.iter_mut().find(|cause| cause.name == *name) {
            Some(known) => known.plus_minus += plus_minus,
            None => shared.push(Cause { name: name.clone(), plus_minus }),
        }
    }
    shared.retain(|cause| cause.plus_minus != 0.0);
    let evidence = pages(&figures);
    Some(Figure { quantity, at, value, own_plus_minus: inner.max(outer), shared, only: None, evidence })
}

fn bound(quantity: Quantity, at: Option<f64>, samples: &[Sample]) -> Option<Figure> {
    let weakest = match samples.first()?.only? {
        Bound::AtLeast => samples.iter().min_by(|a, b| a.value.total_cmp(&b.value))?,
        Bound::AtMost => samples.iter().max_by(|a, b| a.value.total_cmp(&b.value))?,
    };
    let cause = Cause { name: weakest.shared.0.clone(), plus_minus: weakest.shared.1 };
    Some(Figure {
        quantity,
        at,
        value: weakest.value,
        own_plus_minus: weakest.own,
        shared: [cause].into_iter().filter(|cause| cause.plus_minus != 0.0).collect(),
        only: weakest.only,
        evidence: pages(&[weakest]),
    })
}

fn pages(samples: &[&Sample]) -> Vec<String> {
    let mut pages: Vec<String> = Vec::new();
    for sample in samples {
        if !pages.contains(&sample.page) {
            pages.push(sample.page.clone());
        }
    }
    pages
}

#[cfg(test)]
mod tests {
    use super::*;
    use notebook::{Notebook, Scan, ScanDraft};
    use testkit::assert_close;

    /// A straight fall from 1 at nothing to 0 at half a cycle per pixel, known to 0.04.
    fn falling() -> Vec<[f64; 3]> {
        (0..=10).map(|i| [0.05 * f64::from(i), 1.0 - 0.1 * f64::from(i), 0.04]).collect()
    }

    fn seen(place: &str, zone: &str, curve: Vec<[f64; 3]>) -> Sharpness {
        let at = if zone == "centre" { 0.05 } else { 0.85 };
        let (place, zone) = (place.into(), zone.into());
        Sharpness { place, zone, way: "sagittal".into(), at, curve, page: "/scans/1#m1".into() }
    }

    fn scan() -> Scan {
        let mut book = Notebook::in_memory().expect("notebook");
        let draft = ScanDraft { file_name: "a.tif".into(), stored: "a".into(), ..ScanDraft::default() };
        let id = book.add_scan(&draft, "2026-05-01T10:00:00Z").expect("scan");
        book.scan(id).expect("read").expect("there")
    }

    /// At life size and 10 µm: 100 pixels on a millimetre of the subject, the scale good to 2 %.
    fn observed(sharpness: Vec<Sharpness>) -> Observed {
        Observed {
            scan: scan(),
            magnification: Estimate { value: 1.0, plus_minus: 0.02 },
            seen: true,
            pitch_um: 10.0,
            sharpness,
            fringes: vec![],
            glare: None,
            unevenness: None,
            remarks: vec![],
        }
    }

    const SHARP: Quantity = Quantity::Resolution { contrast: 0.3 };

    #[test]
    fn where_a_curve_falls_to_a_share() {
        // By the straight line: 0.3 at 0.35 cycles per pixel; ± 0.04 of contrast are ± 0.02 there.
        let (at, half, only) = resolution(&falling(), 0.3).expect("found");
        assert_close!(at, 0.35, absolute = 1e-12);
        assert_close!(half, 0.02, absolute = 1e-12);
        assert_eq!(only, None);
        // Never: at least as fine as the curve goes, and no finer than a scan can show.
        let high: Vec<[f64; 3]> = (0..=14).map(|i| [0.05 * f64::from(i), 0.9, 0.01]).collect();
        let (end, _, only) = resolution(&high, 0.3).expect("found");
        assert_close!(end, 0.5, absolute = 1e-12);
        assert_eq!(only, Some(Bound::AtLeast));
        assert_eq!(resolution(&[], 0.3), None);
    }

    #[test]
    fn everything_is_brought_to_the_subject() {
        // 0.35 cycles on a pixel, 100 pixels on a millimetre: 35 lp/mm, of which the scale's 2 % are 0.7.
        let one = observed(vec![seen("centre", "centre", falling())]);
        let found = measured(&[&one], &[SHARP], None);
        let figure = &found[0].figure;
        assert_close!(figure.value, 35.0, absolute = 1e-9);
        assert_close!(figure.own_plus_minus, 2.0, absolute = 1e-9);
        assert_close!(figure.shared[0].plus_minus, 0.7, absolute = 1e-9);
        assert_eq!(
            (figure.shared[0].name.as_str(), found[0].place.as_str()),
            ("the scale of a.tif", "centre, sagittal")
        );
        // At half the size the same film shows twice as much of the subject.
        let half = Observed { magnification: Estimate { value: 0.5, plus_minus: 0.0 }, ..one.clone() };
        assert_close!(measured(&[&half], &[SHARP], None)[0].figure.value, 17.5, absolute = 1e-9);
        // Contrast at 20 lp/mm of the subject: 0.2 cycles on a pixel at life size, 0.4 at half.
        let at_20 = |scan: &Observed| measured(&[scan], &[Quantity::Contrast { lp_mm: 20.0 }], None)[0].figure.clone();
        assert_close!(at_20(&one).value, 0.6, absolute = 1e-9);
        assert_close!(at_20(&one).shared[0].plus_minus, 0.008, absolute = 1e-9);
        assert_close!(at_20(&half).value, 0.2, absolute = 1e-9);
        // Finer than the scan shows: no figure.
        assert!(measured(&[&half], &[Quantity::Contrast { lp_mm: 30.0 }], None).is_empty());
        // 56 mm of film at half size take 112 mm of the subject.
        assert_close!(measured(&[&half], &[Quantity::Field], Some(56.0))[0].figure.value, 112.0, absolute = 1e-9);
    }

    #[test]
    fn the_weakest_place_of_a_zone_counts() {
        let soft: Vec<[f64; 3]> = falling().into_iter().map(|[f, r, u]| [f / 2.0, r, u]).collect();
        let all = vec![
            seen("centre", "centre", falling()),
            seen("top left", "corner", falling()),
            seen("top right", "corner", soft),
        ];
        let found = measured(&[&observed(all)], &[SHARP], None);
        let told: Vec<(&str, f64)> = found.iter().map(|placed| (placed.place.as_str(), placed.figure.value)).collect();
        assert_eq!(told.len(), 2);
        assert_eq!((told[0].0, told[1].0), ("centre, sagittal", "top right, sagittal"));
        assert_close!(told[1].1, 17.5, absolute = 1e-9);
    }

    #[test]
    fn frames_pool_to_their_mean_and_scatter_widens_it() {
        let sample = |value: f64, own: f64, name: &str| Sample {
            value,
            own,
            shared: (name.into(), 0.6),
            only: None,
            page: format!("/scans/{name}"),
        };
        // Alike: the doubt of a mean of four, 2/√4; each scale's share a quarter.
        let alike: Vec<Sample> = ["1", "2", "3", "4"].iter().map(|name| sample(30.0, 2.0, name)).collect();
        let mean = pooled(SHARP, None, &alike).expect("pooled");
        assert_close!(mean.own_plus_minus, 1.0, absolute = 1e-12);
        assert_eq!((mean.shared.len(), mean.evidence.len()), (4, 4));
        assert_close!(mean.shared[0].plus_minus, 0.15, absolute = 1e-12);
        // 28 and 32, each said to be sure: the scatter speaks, 1.96 · √(8/1/2) = 3.92.
        let apart = pooled(SHARP, None, &[sample(28.0, 0.1, "1"), sample(32.0, 0.1, "2")]).expect("pooled");
        assert_close!(apart.own_plus_minus, COVERAGE_95 * 2.0, absolute = 1e-9);
        // Two measurements of one scan share its scale in full.
        let twice = pooled(SHARP, None, &[sample(30.0, 2.0, "1"), sample(30.0, 2.0, "1")]).expect("pooled");
        assert_eq!((twice.shared.len(), twice.evidence.len()), (1, 1));
        assert_close!(twice.shared[0].plus_minus, 0.6, absolute = 1e-12);
        // Bounds count where there is nothing else.
        let least = |value: f64| Sample { only: Some(Bound::AtLeast), ..sample(value, 0.0, "1") };
        let bounds = pooled(SHARP, None, &[least(40.0), least(50.0)]).expect("pooled");
        assert_eq!(bounds.only, Some(Bound::AtLeast));
        assert_close!(bounds.value, 40.0, absolute = 1e-12);
        let mixed = pooled(SHARP, None, &[least(40.0), sample(30.0, 1.0, "2")]).expect("pooled");
        assert_eq!(mixed.only, None);
        assert_eq!(pooled(SHARP, None, &[]), None);
    }
}
