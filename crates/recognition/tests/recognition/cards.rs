//! Cards in any position, whole and spoilt, against what was drawn.

use crate::common::{Noise, PAPER, Shot, card};
use measure::{Channel, Figure};
use planes::{Linear, Picture, Plane, Region};
use recognition::{Frame, Held, Item, Options, PatchKind, RecogniseError, Recognised, Remark, Why, recognise};
use std::sync::OnceLock;
use target::{Corner, Part, Sheet, Zone};
use testkit::assert_close;

const FIELD_MM: f64 = 80.0;
const SIDE_PX: usize = 1400;

/// A plain shot of a plain card, drawn once; most tests spoil a copy of it.
fn plain() -> (Shot, &'static Plane<Linear>) {
    static DRAWN: OnceLock<Plane<Linear>> = OnceLock::new();
    let shot = Shot { focus: (1.5, 0.02), ..Shot::of([FIELD_MM; 2], SIDE_PX) };
    let plane = DRAWN.get_or_init(|| shot.take(&card([FIELD_MM; 2]).sheets).luminance());
    (shot, plane)
}

fn options() -> Options {
    Options { trap_cut_out: true, ..Options::default() }
}

fn found(plane: Plane<Linear>) -> Recognised {
    recognise(&mut Held(Picture::grey(plane)), &options()).unwrap_or_else(|error| panic!("{error}"))
}

fn changed(plane: &Plane<Linear>, f: impl Fn(usize, usize, f32) -> f32) -> Plane<Linear> {
    Plane::from_fn(plane.width(), plane.height(), |c, r| f(c, r, plane.at(c, r))).unwrap()
}

/// Root mean square of one coordinate of all corners of a sheet's squares against where they were drawn, pixels.
fn corners_rms(recognised: &Recognised, sheets: &[Sheet], truth: impl Fn([f64; 2]) -> (f64, f64)) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for found in &recognised.sheets {
        let sheet = sheets.iter().find(|sheet| sheet.part == found.part).unwrap();
        for square in &found.squares {
            let drawn = sheet.squares().find(|s| s.name == square.name).unwrap();
            for (mm, px) in drawn.corners().iter().zip(square.corners_px) {
                let (x, y) = truth(sheet.on_field(*mm));
                sum += (x - px.0).powi(2) + (y - px.1).powi(2);
                count += 2.0;
            }
        }
    }
    assert!(count > 0.0);
    f64::sqrt(sum / count)
}

/// Where luminance of a Gaussian blur and a square pixel falls to one half along a direction, cycles per pixel: bisection of
/// exp(-2π²σ²ν²) sinc(ν cos) sinc(ν sin).
fn true_mtf50(sigma: f64, direction_deg: f64) -> f64 {
    let (sin, cos) = direction_deg.to_radians().sin_cos();
    let sinc =
        |x: f64| if x.abs() < 1e-9 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) };
    let mtf = |v: f64| (-2.0 * (std::f64::consts::PI * sigma * v).powi(2)).exp() * sinc(v * cos) * sinc(v * sin);
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if mtf(middle) > 0.5 { low = middle } else { high = middle }
    }
    low
}

#[test]
fn a_plain_card_gives_every_figure_as_drawn() {
    let (shot, plane) = plain();
    let r = found(plane.clone());
    assert!(!r.pose.mirrored && !r.negative);
    assert_close!(corners_rms(&r, &card([FIELD_MM; 2]).sheets, |p| shot.to_picture(p, 0.0)), 0.0, absolute = 0.03);
    assert_close!(r.pose.scale_px_per_mm.mean.value, shot.scale, relative = 1e-4);
    // The printer's half a per cent is the whole doubt of a clean picture.
    assert_close!(r.pose.scale_px_per_mm.mean.plus_minus / shot.scale, 0.005, relative = 0.02);
    assert_eq!(r.pose.quarter_turns, 0);
    assert_close!(r.pose.turn_deg.value, 0.0, absolute = 0.01);
    assert_close!(r.pose.shift_px.0, 0.0, absolute = 0.05);
    assert_eq!(r.edges.len(), 68);
    for edge in &r.edges {
        let mtf50 = edge.mtf50.unwrap();
        let truth = true_mtf50(0.8, edge.outward_deg);
        assert_close!(mtf50.cy_px.value, truth, relative = 0.02, "{} {}", edge.square, edge.side);
        assert_close!(mtf50.subject_lp_mm.value, truth * shot.scale, relative = 0.02);
        assert!(mtf50.film_lp_mm.is_none());
    }
    // The middle square, four sides; and both directions in every other zone.
    for zone in [Zone::HalfWay, Zone::Side, Zone::Corner] {
        let lines: Vec<_> = r.by_zone.iter().filter(|t| t.zone == zone).map(|t| t.line).collect();
        assert!(lines.contains(&measure::FieldLine::Sagittal) && lines.contains(&measure::FieldLine::Tangential));
    }
    assert_eq!(r.rulers.len(), 2);
    for ruler in &r.rulers {
        assert_close!(ruler.report.px_per_mm, shot.scale, relative = 2e-4, "{}", ruler.name);
        assert_close!(ruler.differs_percent, 0.0, absolute = 0.02, "{}", ruler.name);
    }
    let step = |n: usize| r.patches.iter().find(|p| p.kind == PatchKind::Step(n)).unwrap();
    for n in 1..=6 {
        assert_close!(step(n).luminance, shot.exposure * step(n).reflectance.unwrap(), relative = 1e-3, "step {n}");
    }
    let white = r.patches.iter().find(|p| p.kind == PatchKind::White).unwrap();
    assert_close!(white.luminance, shot.exposure * PAPER, relative = 1e-3);
    let even = r.evenness.as_ref().unwrap();
    assert_close!(even.report.corner_mean_stops.value, 0.0, absolute = 1e-3);
    for sample in &even.samples {
        assert_close!(sample.luminance, shot.exposure * PAPER, relative = 1e-3);
    }
    assert!(even.shading.is_empty());
    assert!(even.samples.len() > 100, "{}", even.samples.len());
    // Drawn paper has no grain, which is said.
    let grain = r.left_out.iter().find(|l| l.what == Item::Grain).expect("no grain");
    assert!(r.grain.is_none() && matches!(grain.why, Why::Grain(measure::GrainError::NoGrain { .. })), "{grain:?}");
    assert!(r.remarks.contains(&Remark::PrinterScaleAssumed));
    // What a plain grey picture cannot tell, and nothing else.
    let expected = [Item::Tilt, Item::Fringing, Item::Grain];
    for left in &r.left_out {
        let softness = matches!(left.what, Item::Softness(_));
        assert!(expected.contains(&left.what) || softness, "{left:?}");
    }
    // Half contrast of the bars is lost at the blur σ = b √(ln 2 / 2) / π; their own print has 0.02 mm.
    assert_eq!(r.ramps.len(), 4);
    for ramp in &r.ramps {
        assert_close!(ramp.report.peak_height_mm.value, shot.focus.0, absolute = 0.25, "{}", ramp.name);
        let half = (FIELD_MM / 300.0) * (std::f64::consts::LN_2 / 2.0).sqrt() / std::f64::consts::PI;
        assert_close!(ramp.report.depth_mm.value, 2.0 * half / shot.focus.1, relative = 0.12, "{}", ramp.name);
    }
    let surface = r.alignment.as_ref().unwrap();
    // What stands nearer is shown larger, so its bars lose less to the lens: at 0.31 cycles a pixel ln M changes by -2.8
    // per ln ν, ln ν by -1/240 a millimetre, and the peak's curvature of 0.22 a square millimetre leaves 0.05 mm of it.
    assert_close!(surface.centre_mm.value, shot.focus.0, absolute = 0.2);
    assert_close!(surface.about_upright_deg.value, 0.0, absolute = 0.15);
}

#[test]
fn the_eight_ways_a_picture_can_be_laid() {
    let (shot, plane) = plain();
    let n = SIDE_PX;
    assert_eq!((plane.width(), plane.height()), (n, n));
    let side = n as f64;
    for quarter in 0..4u8 {
        for mirrored in [false, true] {
            // Where a pixel of the turned picture comes from, and where a place of the plain one goes to.
            let turned = Plane::from_fn(n, n, |c, r| {
                let c = if mirrored { n - 1 - c } else { c };
                match quarter {
                    0 => plane.at(c, r),
                    1 => plane.at(r, n - 1 - c),
                    2 => plane.at(n - 1 - c, n - 1 - r),
                    _ => plane.at(n - 1 - r, c),
                }
            });
            let to = |(x, y): (f64, f64)| {
                let (u, v) = match quarter {
                    0 => (x, y),
                    1 => (side - y, x),
                    2 => (side - x, side - y),
                    _ => (y, side - x),
                };
                (if mirrored { side - u } else { u }, v)
            };
            let r = found(turned.unwrap());
            assert_eq!(r.pose.mirrored, mirrored, "{quarter}");
            assert_eq!(r.pose.quarter_turns, quarter, "{mirrored}");
            assert_close!(r.pose.lean_deg, 0.0, absolute = 0.01);
            assert_eq!(r.remarks.contains(&Remark::Mirrored), mirrored);
            let rms = corners_rms(&r, &card([FIELD_MM; 2]).sheets, |p| to(shot.to_picture(p, 0.0)));
            assert_close!(rms, 0.0, absolute = 0.03, "{quarter} {mirrored}");
            assert_eq!(r.edges.len(), 68);
            assert_eq!(r.ramps.len(), 4);
        }
    }
}

#[test]
fn spoilt_cards_lose_what_is_spoilt_and_nothing_else() {
    let (shot, plane) = plain();
    let sheet = &card([FIELD_MM; 2]).sheets[0];
    let box_of = |place: [f64; 2], half: f64| {
        let (x, y) = shot.to_picture(place, 0.0);
        move |c: usize, r: usize| (c as f64 - x).abs() < half && (r as f64 - y).abs() < half
    };
    // One code covered by a beetle box.
    let code = sheet.codes().find(|c| c.text.corner == Corner::TopRight).unwrap();
    let covered = box_of(code.centre, 70.0);
    let r = found(changed(plane, |c, row, v| if covered(c, row) { 0.3 } else { v }));
    assert!(r.left_out.iter().any(|l| l.what == Item::Code(Corner::TopRight) && l.why == Why::NotRead));
    assert_eq!((r.edges.len(), r.sheets[0].codes.len()), (68, 3));

    // All codes covered but one.
    let rest: Vec<_> =
        sheet.codes().filter(|c| c.text.corner != Corner::BottomLeft).map(|c| box_of(c.centre, 70.0)).collect();
    let r = found(changed(plane, |c, row, v| if rest.iter().any(|b| b(c, row)) { 0.3 } else { v }));
    assert_eq!(r.sheets[0].codes, [Corner::BottomLeft]);
    assert_eq!(r.edges.len(), 68);
    assert_close!(corners_rms(&r, std::slice::from_ref(sheet), |p| shot.to_picture(p, 0.0)), 0.0, absolute = 0.03);

    // The lower sixth cut off: two corners, two codes.
    let rows = SIDE_PX * 5 / 6;
    let r = found(Plane::from_fn(SIDE_PX, rows, |c, row| plane.at(c, row)).unwrap());
    for name in ["bottom left", "bottom", "bottom right"] {
        let left = r.left_out.iter().find(|l| l.what == Item::Square(name)).unwrap_or_else(|| panic!("{name}"));
        assert_eq!(left.why, Why::OutsideFrame);
    }
    let code = r.left_out.iter().find(|l| l.what == Item::Code(Corner::BottomLeft)).unwrap();
    assert_eq!(code.why, Why::OutsideFrame);
    assert_eq!(r.edges.len(), 56);
    assert_close!(r.pose.scale_px_per_mm.mean.value, shot.scale, relative = 1e-4);
    // The frame's middle moved up with the cut: the card's middle now lies below it.
    assert_close!(r.pose.shift_px.1, (SIDE_PX - rows) as f64 / 2.0, absolute = 0.1);

    // Glare over a square and half of another.
    let square = |name: &str| sheet.squares().find(|s| s.name == name).unwrap();
    let centre = shot.to_picture(square("inner right").centre, 0.0);
    let blob = |c: usize, r: usize| (c as f64 - centre.0).hypot(r as f64 - centre.1) < 75.0;
    let r = found(changed(plane, |c, row, v| if blob(c, row) { 1.0 } else { v }));
    let left = r.left_out.iter().find(|l| l.what == Item::Square("inner right")).expect("the square in glare");
    assert_eq!(left.why, Why::NotSeen);
    assert_eq!(r.edges.len(), 64);
    assert_close!(r.pose.scale_px_per_mm.mean.value, shot.scale, relative = 1e-4);
    assert_close!(r.evenness.unwrap().report.corner_mean_stops.value, 0.0, absolute = 2e-3);
}

#[test]
fn a_square_that_moved_is_named_and_left_out() {
    let (shot, plane) = plain();
    let sheet = &card([FIELD_MM; 2]).sheets[0];
    let top = sheet.squares().find(|s| s.name == "top").unwrap();
    let (x, y) = shot.to_picture(top.centre, 0.0);
    // A patch about the square is shifted by 8 pixels: a crease in the paper.
    let near = |c: usize, r: usize| (c as f64 - x).abs() < 72.0 && (r as f64 - y).abs() < 72.0;
    let r = found(changed(plane, |c, row, v| if near(c, row) { plane.at(c - 8, row) } else { v }));
    let left = r.left_out.iter().find(|l| l.what == Item::Square("top")).expect("the moved square");
    assert_eq!(left.why, Why::Disagrees);
    assert!(r.edges.iter().all(|e| e.square != "top"));
    assert_close!(r.pose.scale_px_per_mm.mean.value, shot.scale, relative = 1e-4);
}

#[test]
fn grain_defocus_and_negatives() {
    let (shot, plane) = plain();
    // Density grain of 0.04 from pixel to pixel.
    let mut noise = Noise(5);
    let grain: Vec<f32> = plane.samples().iter().map(|_| (0.7 * 10f64.powf(-0.04 * noise.normal())) as f32).collect();
    let grainy = changed(plane, |c, r, v| v * grain[r * SIDE_PX + c]);
    let r = found(grainy);
    assert_close!(r.grain.as_ref().unwrap().report.density_deviation.value, 0.04, relative = 0.05);
    let truth = |p| shot.to_picture(p, 0.0);
    assert_close!(corners_rms(&r, &card([FIELD_MM; 2]).sheets, truth), 0.0, absolute = 0.3);
    assert!(r.edges.len() >= 60, "{}", r.edges.len());
    let centre = r.by_zone.iter().find(|t| t.zone == Zone::Centre).unwrap().mtf50.unwrap();
    assert_close!(centre.cy_px.value, true_mtf50(0.8, 5.0), relative = 0.08);

    // A blur of 4 pixels: codes are still read.
    let mut soft = plane.clone();
    for _ in 0..2 {
        // Twice a box of 2n + 1 pixels both ways: variance 2 (n (n + 1) / 3); n = 4 makes 13.3, beside 0.64 of the lens's own.
        soft = boxed(&boxed(&soft, 4).transposed(), 4).transposed();
    }
    let r = found(soft);
    let centre = r.by_zone.iter().find(|t| t.zone == Zone::Centre).unwrap().mtf50.unwrap();
    // Two boxes of nine pixels: sinc²(9 ν) times the lens; bisection by hand gives the same as a Gaussian of that variance to 2 %.
    assert_close!(centre.cy_px.value, true_mtf50((13.33f64 + 0.64).sqrt(), 5.0), relative = 0.04);
    assert_close!(r.pose.scale_px_per_mm.mean.value, shot.scale, relative = 3e-4);

    // A negative: light and dark exchanged.
    let r = found(changed(plane, |_, _, v| 0.9 - v));
    assert!(r.negative && r.remarks.contains(&Remark::Negative));
    assert_close!(corners_rms(&r, &card([FIELD_MM; 2]).sheets, truth), 0.0, absolute = 0.03);
    assert_eq!(r.edges.len(), 68);
    assert!(r.contrast.is_none() && r.evenness.is_none());
    let why = |what: Item| r.left_out.iter().find(|l| l.what == what).map(|l| l.why.clone());
    assert_eq!(why(Item::Trap), Some(Why::Negative));
    assert_eq!(why(Item::Evenness), Some(Why::Negative));
}

/// Mean of 2 n + 1 neighbours along the rows.
fn boxed(plane: &Plane<Linear>, n: i64) -> Plane<Linear> {
    let last = plane.width() as i64 - 1;
    Plane::from_fn(plane.width(), plane.height(), |c, r| {
        let sum: f32 = (-n..=n).map(|k| plane.at((c as i64 + k).clamp(0, last) as usize, r)).sum();
        sum / (2 * n + 1) as f32
    })
    .unwrap()
}

#[test]
fn tilt_distortion_fringing_glare_and_fall_off() {
    let shot = Shot {
        turn_deg: 7.0,
        scale: 17.5,
        tilt_deg: (5.0, -3.0),
        k1: 0.015,
        colour: true,
        fringing: (1.5, -0.8),
        glare: 0.03,
        falloff: 0.6,
        shift_mm: (0.6, -0.4),
        focus: (1.0, 0.02),
        focus_slope: (0.03, 0.0),
        ..Shot::of([FIELD_MM; 2], 1600)
    };
    let given = Options {
        entrance_pupil_to_subject_mm: Some(Figure::new(shot.distance_mm, 1.0)),
        pitch_um: Some(20.0),
        check_line_mm: Some(Figure::new(100.4, 0.1)),
        effective_f_number: Some(8.0),
        ..options()
    };
    let picture = shot.take(&card([FIELD_MM; 2]).sheets);
    let r = recognise(&mut Held(picture.clone()), &given).unwrap_or_else(|error| panic!("{error}"));
    // Fringing shifts luminance's edges a little outwards, so corners are a little less sure.
    assert_close!(corners_rms(&r, &card([FIELD_MM; 2]).sheets, |p| shot.to_picture(p, 0.0)), 0.0, absolute = 0.15);
    assert_close!(r.pose.turn_deg.value, 7.0, absolute = 0.3);
    assert_close!(r.pose.distortion_percent.unwrap().value, 1.5, absolute = 0.03);
    let tilt = r.pose.tilt.as_ref().unwrap();
    assert_close!(tilt.about_upright_deg.value, 5.0, absolute = 0.15);
    assert_close!(tilt.about_level_deg.value, -3.0, absolute = 0.15);
    // The check line makes every true millimetre 0.4 % longer than the printed one, and scales smaller.
    assert_close!(r.pose.magnification.unwrap().value, 17.5 * 0.020 / 1.004, relative = 4e-3);
    let plus_minus = r.pose.magnification.unwrap().plus_minus / r.pose.magnification.unwrap().value;
    assert_close!(plus_minus, 0.001, relative = 0.1);
    // Fringing grows evenly to the corner; 1.5 pixels are 30 µm.
    let fringing = r.fringing.as_ref().unwrap();
    assert!(r.fringing_in_um);
    assert_close!(fringing.red.linear_um.value, 30.0, absolute = 1.2);
    assert_close!(fringing.blue.linear_um.value, -16.0, absolute = 1.2);
    let edge = &r.edges[0];
    let mtf50 = edge.mtf50.unwrap();
    assert_close!(mtf50.film_lp_mm.unwrap().value, mtf50.cy_px.value * 50.0, relative = 1e-12);
    for edge in r.edges.iter().filter_map(|e| e.report.channel(Channel::Green)) {
        assert_close!(edge.mtf50_cy_px.unwrap(), true_mtf50(0.8, 20.0), relative = 0.04);
    }
    // Everything that the camera sees is paper, ink and bars: what was added is glare times the mean, which the
    // trap shows bare (its own reflectance is 0.001); the share is of the white beside it.
    let plane = picture.luminance();
    let trap = r.patches.iter().find(|p| p.kind == PatchKind::Trap).unwrap();
    let white = r.patches.iter().rfind(|p| p.kind == PatchKind::White).unwrap();
    let mean = plane.samples().iter().map(|s| f64::from(*s)).sum::<f64>() / plane.samples().len() as f64;
    assert_close!(trap.luminance, 0.03 * mean, relative = 0.25);
    let glare = r.contrast.as_ref().unwrap().channel(Channel::Luminance).unwrap().glare.figure().unwrap();
    assert_close!(glare.value, trap.luminance / white.luminance, relative = 1e-2);
    // Glare fills the corners: what is left of the fall-off is log2 of (1 + g) over (2^-0.6 + g), g as a share of the middle's white.
    let even = r.evenness.as_ref().unwrap();
    let near = |s: &&recognition::GroundSample| (s.place_px.0 - 800.0).hypot(s.place_px.1 - 800.0) < 160.0;
    let middle: Vec<f64> = even.samples.iter().filter(near).map(|s| s.luminance).collect();
    let g = trap.luminance / (middle.iter().sum::<f64>() / middle.len() as f64);
    let expected = ((1.0) / ((1.0 - g) * (-0.6f64).exp2() + g)).log2();
    assert_close!(-even.report.corner_mean_stops.value, expected, absolute = 0.03);
    // All colours fall off alike, and glare is the same grey for all.
    assert_eq!(even.shading.len(), 2);
    for corner in even.shading.iter().flat_map(|s| s.corners_stops) {
        assert_close!(corner.value, 0.0, absolute = 0.01);
    }

    // The sharp surface rises by 0.03 to the right on the card, which is turned by 7 degrees. Only the ramps are drawn out of focus: the squares,
    // alike all over, contradict them and are not asked.
    let surface = r.alignment.as_ref().unwrap();
    let curvature = r.left_out.iter().find(|l| l.what == Item::Curvature).unwrap();
    assert!(matches!(curvature.why, Why::Curvature(measure::CurvatureError::Contradiction { .. })), "{curvature:?}");
    let truth = (0.03 * 7f64.to_radians().cos(), 0.03 * 7f64.to_radians().sin());
    assert_close!(surface.about_upright_deg.value, truth.0.atan().to_degrees(), absolute = 0.4);
    assert_close!(surface.about_level_deg.value, truth.1.atan().to_degrees(), absolute = 0.4);
    assert_close!(surface.centre_mm.value, 1.0, absolute = 0.2);

    // Without the distance the bars themselves tell where the camera stands, and the ramps come out alike.
    let blind = recognise(&mut Held(picture), &Options { entrance_pupil_to_subject_mm: None, ..given }).unwrap();
    assert_eq!(blind.ramps.len(), r.ramps.len());
    for (a, b) in blind.ramps.iter().zip(&r.ramps) {
        let (a, b) = (a.report.peak_height_mm.value, b.report.peak_height_mm.value);
        assert_close!(a, b, absolute = 0.15);
    }
    let tilt = blind.left_out.iter().find(|l| l.what == Item::Tilt).unwrap();
    assert!(matches!(tilt.why, Why::Needs(_)));
}

#[test]
fn a_small_card_has_no_greys_and_limits_what_its_print_can_prove() {
    let field = [15.0, 15.0];
    let shot = Shot { sigma: [1.2; 3], ..Shot::of(field, 900) };
    let sheets = card(field).sheets;
    let r = recognise(&mut Held(shot.take(&sheets)), &options()).unwrap_or_else(|error| panic!("{error}"));
    assert_close!(corners_rms(&r, &sheets, |p| shot.to_picture(p, 0.0)), 0.0, absolute = 0.03);
    assert!(r.ramps.is_empty() && r.alignment.is_none());
    assert!(r.patches.iter().all(|p| !matches!(p.kind, PatchKind::Step(_))));
    assert!(r.contrast.is_some());
    // 58.8 pixels per mm: the picture loses half its contrast at 9 line pairs per mm, and so does a print.
    assert!(r.edges.iter().all(|e| e.print_limit.is_some_and(|l| l.found_lp_mm > 0.7 * l.provable_lp_mm)));
    assert!(r.remarks.iter().any(|m| matches!(m, Remark::PrintLimits { edges, .. } if *edges == r.edges.len())));
}

#[test]
fn five_sheets_of_a_large_card() {
    let field = [200.0, 200.0];
    let shot = Shot { k1: -0.01, ..Shot::of(field, 2000) };
    let sheets = card(field).sheets;
    let r = recognise(&mut Held(shot.take(&sheets)), &options()).unwrap_or_else(|error| panic!("{error}"));
    let parts: Vec<Part> = r.sheets.iter().map(|s| s.part).collect();
    assert_eq!(parts, Part::ALL[1..]);
    assert_close!(corners_rms(&r, &sheets, |p| shot.to_picture(p, 0.0)), 0.0, absolute = 0.06);
    assert_close!(r.pose.distortion_percent.unwrap().value, -1.0, absolute = 0.1);
    // Ten pixels a millimetre leave many edges less than the 16 pixels across that one needs.
    assert!(r.edges.len() > 100, "{}", r.edges.len());
    assert!(r.edges.iter().any(|e| e.part == Part::BottomRight && e.zone == Zone::Corner));
    assert!(r.edges.iter().any(|e| e.part == Part::Centre && e.zone == Zone::Centre));
}

/// A frame that counts what is asked of it.
struct Counting {
    held: Held,
    largest: u64,
    factors: Vec<u32>,
}

impl Frame for Counting {
    type Error = std::convert::Infallible;

    fn size(&self) -> (u32, u32) {
        self.held.size()
    }

    fn reduced(&mut self, factor: u32) -> Result<Picture<Linear>, Self::Error> {
        self.factors.push(factor);
        self.held.reduced(factor)
    }

    fn region(&mut self, region: Region) -> Result<Picture<Linear>, Self::Error> {
        let (width, height) = self.size();
        assert!(region.lies_within(width, height), "{region:?}");
        self.largest = self.largest.max(u64::from(region.width) * u64::from(region.height));
        self.held.region(region)
    }
}

#[test]
fn a_large_frame_is_never_held_whole() {
    let (shot, plane) = plain();
    // Three times as large, between the pixels by straight lines.
    let n = 3 * SIDE_PX;
    let at = |v: usize| ((v as f64 + 0.5) / 3.0 - 0.5).clamp(0.0, SIDE_PX as f64 - 1.001);
    let large = Plane::<Linear>::from_fn(n, n, |c, r| {
        let (x, y) = (at(c), at(r));
        let (c, r, fx, fy) = (x as usize, y as usize, x.fract() as f32, y.fract() as f32);
        let row = |r: usize| plane.at(c, r) * (1.0 - fx) + plane.at(c + 1, r) * fx;
        row(r) * (1.0 - fy) + row(r + 1) * fy
    });
    let held = Held(Picture::grey(large.unwrap()));
    let mut frame = Counting { held, largest: 0, factors: Vec::new() };
    let r = recognise(&mut frame, &options()).unwrap();
    assert_eq!(frame.factors, [2]);
    // Rulers are the largest pieces, a few per cent of the frame.
    assert!(frame.largest < (n * n / 10) as u64, "{}", frame.largest);
    assert_eq!(r.edges.len(), 68);
    let truth = |p| {
        let (x, y) = shot.to_picture(p, 0.0);
        (3.0 * x, 3.0 * y)
    };
    assert_close!(corners_rms(&r, &card([FIELD_MM; 2]).sheets, truth), 0.0, absolute = 0.06);
}

#[test]
fn wrong_options_are_refused() {
    let (_, plane) = plain();
    let mut frame = Held(Picture::grey(plane.clone()));
    for options in [
        Options { pitch_um: Some(0.0), ..Options::default() },
        Options { effective_f_number: Some(f64::NAN), ..Options::default() },
        Options { check_line_mm: Some(Figure::exact(-100.0)), ..Options::default() },
        Options { entrance_pupil_to_subject_mm: Some(Figure::exact(f64::INFINITY)), ..Options::default() },
    ] {
        assert!(matches!(recognise(&mut frame, &options), Err(RecogniseError::BadOption { .. })));
    }
}

/// Planes beside each other on even ground, as high as the highest.
fn beside(planes: &[(&Plane<Linear>, usize)], width: usize) -> Plane<Linear> {
    let height = planes.iter().map(|(plane, _)| plane.height()).max().unwrap();
    Plane::from_fn(width, height, |c, r| {
        let hit = planes.iter().find(|(p, from)| (*from..from + p.width()).contains(&c) && r < p.height());
        hit.map_or(0.2, |(p, from)| p.at(c - from, r))
    })
    .unwrap()
}

#[test]
fn a_small_card_in_a_wide_frame_is_found_by_tiles() {
    let (shot, plane) = plain();
    // The overview takes four pixels to one: a code's module of 8 pixels becomes 2, which no reader tells apart.
    let from = 6100;
    let mut frame =
        Counting { held: Held(Picture::grey(beside(&[(plane, from)], 9600))), largest: 0, factors: Vec::new() };
    let r = recognise(&mut frame, &options()).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(frame.factors, [4]);
    assert_eq!((r.sheets[0].codes.len(), r.edges.len()), (4, 68));
    let truth = |p| {
        let (x, y) = shot.to_picture(p, 0.0);
        (x + from as f64, y)
    };
    assert_close!(corners_rms(&r, &card([FIELD_MM; 2]).sheets, truth), 0.0, absolute = 0.03);
}

#[test]
fn of_two_prints_in_one_picture_the_one_that_shows_most_is_taken() {
    let (shot, plane) = plain();
    let other = target::Card::new([FIELD_MM; 2], target::Identity::from_number(5)).unwrap();
    let second = Shot::of([FIELD_MM; 2], 1000).take(&other.sheets).luminance();
    // Of the other print the left two thirds are in the frame.
    let r = found(beside(&[(plane, 0), (&second, SIDE_PX + 40)], SIDE_PX + 40 + 660));
    assert_eq!(r.identity, card([FIELD_MM; 2]).sheets[0].identity);
    assert!(r.remarks.contains(&Remark::OtherCards { count: 1 }), "{:?}", r.remarks);
    assert_eq!((r.sheets[0].codes.len(), r.edges.len()), (4, 68));
    assert_close!(corners_rms(&r, &card([FIELD_MM; 2]).sheets, |p| shot.to_picture(p, 0.0)), 0.0, absolute = 0.03);
}
