//! Frames brought together by what they show, against the renderer's truth. `CLOSEWORK_LONG=1` goes through the whole grid of cases.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};

use measure::{AlignError, AlignRemark, ByPicture, Figure, PictureOptions, align_by_picture};
use planes::{Linear, Plane};
use scene::{
    Blur, Capture, Channel, Grain, LateralColour, Point, Reflectance, Scene, Settings, Specimen, render, specimen,
};
use testkit::assert_close;

/// A beetle of 18 mm on light paper, with a few seeds beside it.
fn beetle() -> Scene {
    let mut scene = Scene::new(Reflectance::grey(0.7));
    scene.lay(&specimen(Specimen::StagBeetle), 18.0, 12.0, Point::new(-2.0, 0.5));
    scene.lay(&specimen(Specimen::SeedPod), 9.0, -30.0, Point::new(7.0, 3.0));
    scene
}

fn crystal() -> Scene {
    let mut scene = Scene::new(Reflectance::grey(0.7));
    scene.lay(&specimen(Specimen::Crystal), 18.0, 0.0, Point::new(1.0, -0.5));
    scene
}

/// 900 × 900 pixels of 25.4 µm on film.
fn plain() -> Settings {
    Settings { width_px: 900, height_px: 900, magnification: 0.9, blur: Blur::even(12.0), ..Settings::default() }
}

/// Luminance of what the scanner gives.
fn scanned(scene: &Scene, settings: Settings) -> (Capture, Plane<Linear>) {
    let capture = Capture::new(settings).unwrap();
    let rendered = render(scene, &capture, &mut |_| ControlFlow::Continue(())).unwrap();
    let light = rendered.linear(rendered.whole()).unwrap().unwrap().luminance();
    (capture, light)
}

fn pixel(capture: &Capture, (x, y): (f64, f64)) -> (f64, f64) {
    let at = capture.to_pixel(Channel::Green, Point::new(x, y));
    (at.x, at.y)
}

/// The measured scale, off by half of its interval of 2 %.
fn known(first: &Capture, second: &Capture, mirrored: bool) -> PictureOptions {
    let per_mm = |capture: &Capture| capture.settings().magnification / capture.settings().pitch_um;
    let scale = per_mm(second) / per_mm(first) * 1.01;
    PictureOptions { scale: Figure::new(scale, 0.02 * scale), mirrored }
}

fn by_picture(
    first: &Plane<Linear>,
    second: &Plane<Linear>,
    options: &PictureOptions,
) -> Result<ByPicture, AlignError> {
    align_by_picture(first, second, options, |_| ControlFlow::Continue(()))
}

/// Places on beetle and pod, mm.
const PLACES_MM: [(f64, f64); 5] = [(-2.0, 0.0), (-5.0, -7.0), (1.0, 7.0), (7.0, 3.0), (5.0, 5.0)];

/// One case: what changes in the second frame.
struct Case {
    name: &'static str,
    second: Settings,
}

fn cases() -> Vec<Case> {
    let case = |name, second| Case { name, second };
    let turned = |rotation_deg| Settings { rotation_deg, shift_mm: Point::new(1.2, -0.8), ..plain() };
    vec![
        case("smaller, turned by 25°", Settings { magnification: 0.5, ..turned(25.0) }),
        case("upside down, two stops darker", Settings { exposure_stops: -2.0, ..turned(178.0) }),
        case(
            "larger, blurred three times as much",
            Settings { magnification: 1.2, blur: Blur::even(36.0), ..turned(-63.0) },
        ),
        case(
            "grain and glare",
            Settings {
                grain: Grain { density_sd: 0.08, correlation_um: 20.0 },
                veiling_glare: 0.1,
                falloff_stops_at_corner: 0.8,
                ..turned(4.0)
            },
        ),
        case("fringed", Settings { lateral: LateralColour { red_um: 30.0, blue_um: -30.0 }, ..turned(91.0) }),
        case("mirrored", Settings { mirrored: true, magnification: 0.7, ..turned(-120.0) }),
    ]
}

/// Every magnification with every turn, blur and grain.
fn grid() -> Vec<Case> {
    let mut all = Vec::new();
    for magnification in [0.4, 0.6, 0.9, 1.3] {
        for (k, rotation_deg) in [-171.0, -97.3, -41.0, 0.0, 13.7, 88.8, 135.0].into_iter().enumerate() {
            for (blur_um, density_sd) in [(10.0, 0.0), (40.0, 0.05), (80.0, 0.1)] {
                let second = Settings {
                    magnification,
                    rotation_deg,
                    shift_mm: Point::new(0.3 * k as f64 - 1.0, 0.7 - 0.2 * k as f64),
                    blur: Blur::even(blur_um),
                    grain: Grain { density_sd, correlation_um: 25.0 },
                    exposure_stops: 0.3 * k as f64 - 1.5,
                    seed: 7 + k as u64,
                    ..plain()
                };
                all.push(Case { name: "grid", second });
            }
        }
    }
    all
}

/// How a case came out.
struct Outcome {
    apart_px: f64,
    of_scale: f64,
    /// Figures within what was said of them, and all.
    held: (u32, u32),
}

#[test]
fn rendered_frames_are_brought_together_to_half_a_pixel() {
    let scene = beetle();
    let (first, light) = scanned(&scene, plain());
    // The short form takes every other one.
    let all: Vec<Case> = match testkit::long() {
        true => cases().into_iter().chain(grid()).collect(),
        false => cases().into_iter().step_by(2).collect(),
    };
    let next = AtomicUsize::new(0);
    let work = || {
        let mine = std::iter::from_fn(|| all.get(next.fetch_add(1, Ordering::Relaxed)));
        mine.map(|case| outcome(&scene, &first, &light, case)).collect::<Vec<_>>()
    };
    let outcomes: Vec<Outcome> = std::thread::scope(|threads| {
        let both = [(); 2].map(|()| threads.spawn(work));
        both.into_iter().flat_map(|one| one.join().unwrap_or_else(|why| std::panic::resume_unwind(why))).collect()
    });
    let worst = outcomes.iter().fold((0.0_f64, 0.0_f64), |w, o| (w.0.max(o.apart_px), w.1.max(o.of_scale)));
    let (held, told) = outcomes.iter().fold((0, 0), |sum, o| (sum.0 + o.held.0, sum.1 + o.held.1));
    println!("worst: {:.3} px, {:.4} %; {held} of {told} within what was said", worst.0, 100.0 * worst.1);
    // At least nine in ten: the intervals hold what the renderer does to the frames, too.
    assert!(f64::from(held) >= 0.9 * f64::from(told), "{held} of {told}");
}

fn outcome(scene: &Scene, first: &Capture, light: &Plane<Linear>, Case { name, second }: &Case) -> Outcome {
    let mirrored = second.mirrored;
    let (second, other) = scanned(scene, *second);
    let options = known(first, &second, mirrored);
    let found = by_picture(light, &other, &options).unwrap_or_else(|e| panic!("{name}: {e}"));
    let truth = options.scale.value / 1.01;
    let scale = found.aligned.scale;
    let mut apart_px = 0.0_f64;
    let mut held = (0, 0);
    for mm in PLACES_MM {
        let (place, at) = (found.aligned.place(pixel(first, mm)), pixel(&second, mm));
        apart_px = apart_px.max((place[0].value - at.0).hypot(place[1].value - at.1));
        for (figure, truth) in [(place[0], at.0), (place[1], at.1)] {
            held.1 += 1;
            held.0 += u32::from((figure.value - truth).abs() <= figure.plus_minus);
        }
    }
    let of_scale = (scale.value / truth - 1.0).abs();
    println!(
        "{name}: apart {apart_px:.3} px, scale off {:.4} %, said ± {:.4} % and ± {:.3} px, likeness {:.2}, shared {:.2}",
        100.0 * of_scale,
        100.0 * scale.plus_minus / truth,
        found.aligned.place(pixel(first, (0.0, 0.0)))[0].plus_minus,
        found.likeness,
        found.shared
    );
    assert_close!(scale.value, truth, relative = 0.002, "{name}");
    assert!(apart_px < 0.5, "{name}: {apart_px} px");
    assert_eq!(found.aligned.similarity.is_mirrored(), mirrored);
    Outcome { apart_px, of_scale, held }
}

#[test]
fn different_subjects_are_refused() {
    let (first, light) = scanned(&beetle(), plain());
    let others = [crystal(), {
        let mut scene = Scene::new(Reflectance::grey(0.7));
        scene.lay(&specimen(Specimen::SeedPod), 18.0, 40.0, Point::new(0.0, 0.0));
        scene
    }];
    for scene in others.into_iter().take(testkit::short_or_long(1, 2)) {
        let (second, other) =
            scanned(&scene, Settings { grain: Grain { density_sd: 0.03, correlation_um: 20.0 }, ..plain() });
        let refused = by_picture(&light, &other, &known(&first, &second, false));
        println!("{refused:?}");
        assert!(matches!(refused, Err(AlignError::NotTheSame { .. })), "{refused:?}");
    }
    // Nothing but grain.
    let grain = Settings { grain: Grain { density_sd: 0.1, correlation_um: 60.0 }, ..plain() };
    let (second, other) = scanned(&Scene::new(Reflectance::grey(0.4)), grain);
    let refused = by_picture(&light, &other, &known(&first, &second, false));
    assert!(matches!(refused, Err(AlignError::NotTheSame { .. })), "{refused:?}");
}

#[test]
fn a_subject_that_repeats_itself_is_refused() {
    // A grid of squares lies on itself at every displacement by two squares.
    let grid = |shift: usize| {
        Plane::<Linear>::from_fn(300, 300, |x, y| if ((x + shift) / 10 + y / 10).is_multiple_of(2) { 0.8 } else { 0.1 })
            .unwrap()
    };
    let refused = by_picture(&grid(0), &grid(3), &PictureOptions { scale: Figure::exact(1.0), mirrored: false });
    assert!(matches!(refused, Err(AlignError::NotTheSame { .. })), "{refused:?}");
}

#[test]
fn a_wrong_magnification_is_remarked_on() {
    let (_, light) = scanned(&beetle(), plain());
    // The very same frame, said to be 3 % larger with ± 0.5 %.
    let options = PictureOptions { scale: Figure::new(1.03, 0.005), mirrored: false };
    let found = by_picture(&light, &light, &options).unwrap();
    assert_close!(found.aligned.scale.value, 1.0, absolute = 1e-4);
    assert!(
        matches!(found.aligned.remarks[..], [AlignRemark::ScaleOff { expected, .. }] if expected == options.scale),
        "{:?}",
        found.aligned.remarks
    );
}

#[test]
fn what_cannot_be_searched_is_refused_by_name() {
    let even = |side: usize| Plane::<Linear>::from_fn(side, side, |_, _| 0.5).unwrap();
    let with = |first: usize, second: usize, scale: Figure| {
        by_picture(&even(first), &even(second), &PictureOptions { scale, mirrored: false }).unwrap_err()
    };
    let exact = Figure::exact(1.0);
    assert!(matches!(with(100, 100, Figure::exact(0.0)), AlignError::BadNumber { what: "the scale", .. }));
    assert!(matches!(with(100, 100, Figure::exact(f64::NAN)), AlignError::BadNumber { .. }));
    assert!(matches!(with(100, 100, Figure::new(1.0, 0.2)), AlignError::ScaleUnsure { .. }));
    assert!(matches!(with(100, 100, Figure::new(1.0, f64::NAN)), AlignError::ScaleUnsure { .. }));
    assert!(matches!(with(20, 100, exact), AlignError::TooSmall { frame: "first", side_px: 20, .. }));
    assert!(matches!(with(100, 20, exact), AlignError::TooSmall { frame: "second", .. }));
    assert!(matches!(with(100, 800, exact), AlignError::FieldsUnlike { .. }));
    assert!(matches!(with(100, 100, exact), AlignError::NotTheSame { .. }));
    let options = PictureOptions { scale: exact, mirrored: false };
    let stopped = align_by_picture(&even(100), &even(100), &options, |_| ControlFlow::Break(()));
    assert_eq!(stopped, Err(AlignError::Stopped));
}
