//! What is laid on a small card (blades, a grey scale, a tilted steel rule), as `scene` draws it, whose truth is its own.

use planes::{Linear, Picture};
use recognition::{Held, Item, Options, PatchKind, Recognised, Why, recognise};
use scene::{
    Blur, Capture, Channel, Focus, Grain, Perspective, Placement, Point, Scene, Settings, TargetPaint, Truth, render,
    target_scene,
};
use std::ops::ControlFlow;
use target::{Card, Identity};
use testkit::assert_close;

const SIDE_PX: u32 = 1500;
const PITCH_UM: f64 = 25.4;

fn laid() -> TargetPaint {
    TargetPaint { blades: true, grey_scale: vec![0.8, 0.4, 0.2, 0.1, 0.05], ..TargetPaint::default() }
}

fn settings(field_mm: f64) -> Settings {
    Settings {
        magnification: 0.97 * f64::from(SIDE_PX) * PITCH_UM / 1000.0 / field_mm,
        pitch_um: PITCH_UM,
        width_px: SIDE_PX,
        height_px: SIDE_PX,
        rotation_deg: 0.9,
        blur: Blur::even(18.0),
        exposure_stops: -0.2,
        ..Settings::default()
    }
}

fn scene(field_mm: f64, paint: &TargetPaint) -> Scene {
    let card = Card::new([field_mm; 2], Identity::from_number(31)).unwrap();
    let sheets: Vec<_> = card.sheets.into_iter().map(|sheet| (sheet.clone(), Placement::meant(&sheet))).collect();
    target_scene(&sheets, paint).unwrap()
}

fn photographed(scene: &Scene, settings: Settings) -> (Capture, Picture<Linear>) {
    let capture = Capture::new(settings).unwrap();
    let drawn = render(scene, &capture, &mut |_| ControlFlow::Continue(())).unwrap();
    let picture = drawn.linear(drawn.whole()).unwrap().unwrap();
    (capture, picture)
}

fn found(picture: Picture<Linear>, options: &Options) -> Recognised {
    recognise(&mut Held(picture), options).unwrap_or_else(|error| panic!("{error}"))
}

fn options() -> Options {
    Options { pitch_um: Some(PITCH_UM), ..Options::default() }
}

#[test]
fn blades_show_the_lens_without_the_prints_softness() {
    for field_mm in [15.0, 40.0] {
        let scene = scene(field_mm, &laid());
        let (capture, picture) = photographed(&scene, settings(field_mm));
        let r = found(picture, &options());
        let truth = Truth::new(&scene, &capture).edges();
        assert_eq!(r.blades.len(), 2, "{field_mm} mm: {:?}", r.left_out);
        for blade in &r.blades {
            let drawn = truth.iter().find(|t| t.name == format!("blade {}", blade.square)).unwrap();
            let lp_mm = drawn.frequency_at(Channel::Green, 0.5).unwrap();
            let film = blade.mtf50.unwrap().film_lp_mm.unwrap();
            assert_close!(film.value, lp_mm, relative = 0.02, "{} on {field_mm} mm", blade.square);
            assert!(blade.print_limit.is_none());
            // The direction to the white, as drawn.
            let (x, y) = blade.outward_deg.to_radians().sin_cos();
            assert_close!(y * drawn.normal.x + x * drawn.normal.y, 1.0, absolute = 1e-2, "{}", blade.square);
        }
        // On the same card the print is softer than the lens: 0.05 mm of rise at three times and more.
        let blade = r.blades[0].mtf50.unwrap().subject_lp_mm.value;
        let printed = r.edges.iter().filter_map(|e| e.mtf50).map(|m| m.subject_lp_mm.value);
        let printed = printed.fold(0.0, f64::max);
        if field_mm < 20.0 {
            assert!(blade > 1.3 * printed, "blade {blade}, print {printed}");
        }
        // Printed edges are pooled with printed edges alone.
        assert!(r.by_zone.iter().flat_map(|t| &t.edges).all(|i| *i < r.edges.len()));
    }
}

#[test]
fn places_where_nothing_lies_are_named() {
    let scene = scene(40.0, &TargetPaint::default());
    let (_, picture) = photographed(&scene, settings(40.0));
    let r = found(picture, &options());
    assert!(r.blades.is_empty() && r.ramps.is_empty());
    for what in [Item::Blade("bottom left"), Item::Blade("bottom right"), Item::Rule, Item::GreyScale] {
        let left = r.left_out.iter().find(|l| l.what == what).unwrap_or_else(|| panic!("{what:?}: {:?}", r.left_out));
        assert_eq!(left.why, Why::NotLaid, "{what:?}");
    }
}

#[test]
fn a_grey_scale_gives_its_fields_from_the_lightest() {
    let scene = scene(40.0, &laid());
    let (capture, picture) =
        photographed(&scene, Settings { grain: Grain { density_sd: 0.01, correlation_um: 20.0 }, ..settings(40.0) });
    let given = laid().grey_scale;
    let r = found(picture.clone(), &Options { grey_scale: given.clone(), ..options() });
    let fields: Vec<_> = r.patches.iter().filter(|p| matches!(p.kind, PatchKind::Stuck(_))).collect();
    assert_eq!(fields.len(), given.len(), "{:?}", r.left_out);
    for (i, (field, reflectance)) in fields.iter().zip(&given).enumerate() {
        assert_eq!((field.kind, field.reflectance), (PatchKind::Stuck(i + 1), Some(*reflectance)));
        assert_close!(field.luminance, capture.exposure() * reflectance, relative = 0.01, "field {}", i + 1);
    }
    // Without their reflectances they are light and no more.
    let r = found(picture.clone(), &options());
    let fields = r.patches.iter().filter(|p| matches!(p.kind, PatchKind::Stuck(_)));
    assert!(fields.clone().count() == 5 && fields.clone().all(|p| p.reflectance.is_none()));
    // Reflectances that do not go with what is seen are not given to anything.
    let r = found(picture, &Options { grey_scale: vec![0.8, 0.1], ..options() });
    assert!(r.patches.iter().filter(|p| matches!(p.kind, PatchKind::Stuck(_))).all(|p| p.reflectance.is_none()));
    let left = r.left_out.iter().find(|l| l.what == Item::GreyScale).unwrap();
    assert_eq!(left.why, Why::OtherFields { found: 5, given: 2 });
}

#[test]
fn a_tilted_rule_tells_where_the_focus_lay_and_how_deep() {
    // Field, height of best focus, effective f-number, whether a lens near by shows what is higher larger.
    let all =
        [(40.0, -1.0, 5.0, 140.0), (15.0, 0.2, 8.0, 70.0), (40.0, 0.6, 5.0, f64::INFINITY), (58.0, 1.5, 4.0, 160.0)];
    for (field_mm, height_mm, f_number, distance_mm) in all.into_iter().take(testkit::short_or_long(2, 4)) {
        let scene = scene(field_mm, &laid());
        let settings = Settings {
            focus: Focus { height_mm, slope: Point::new(0.0, 0.0), curvature_mm: 0.0, f_number },
            perspective: Perspective { distance_mm, ..Perspective::default() },
            grain: Grain { density_sd: 0.01, correlation_um: 20.0 },
            ..settings(field_mm)
        };
        let (capture, picture) = photographed(&scene, settings);
        let r = found(picture, &options());
        let what = format!("{field_mm} mm, focus at {height_mm} mm, from {distance_mm} mm");
        let [rule] = &r.ramps[..] else { panic!("{what}: {:?}", r.left_out) };
        let best = Truth::new(&scene, &capture).ramps()[0].best.unwrap();
        assert_eq!(rule.name, "rule");
        assert_close!(rule.bar_mm, 0.5, relative = 1e-12, "{what}");
        // The hand that stands the rule is the whole doubt; here it stood as drawn.
        assert_close!(rule.report.peak_height_mm.value, best.height_mm, absolute = 0.06, "{what}");
        assert!(rule.report.peak_height_mm.plus_minus > 0.2, "{what}");
        // A harmonic's contrast halves where the first one's does over its number.
        let depth = best.depth_mm / rule.harmonic as f64;
        assert_close!(rule.report.depth_mm.value, depth, relative = 0.15, "{what}, harmonic {}", rule.harmonic);
        assert_close!(rule.subject_lp_mm, rule.harmonic as f64 / (0.5 * 0.5f64.sqrt()), relative = 1e-9, "{what}");
        assert!(r.alignment.is_none(), "one rule tells no slope");
    }
}
