//! Tilt and curvature of the sharp surface, as `scene` draws them.

use measure::{AlignmentReport, Figure};
use planes::{Linear, Picture};
use recognition::{Held, Options, Recognised, recognise};
use scene::{Blur, Capture, Focus, Grain, Perspective, Placement, Point, Settings, TargetPaint, render, target_scene};
use std::ops::ControlFlow;
use target::{Card, Identity};
use testkit::assert_close;

const FIELD_MM: f64 = 80.0;
const SIDE_PX: u32 = 1500;
const PITCH_UM: f64 = 25.4;
const F_NUMBER: f64 = 6.0;

#[derive(Debug, Clone, Copy)]
struct Case {
    /// Rise of the sharp surface to the right and downwards, degrees.
    tilt_deg: (f64, f64),
    /// Height on the axis and in the corner over it, mm.
    height_mm: f64,
    curvature_mm: f64,
    /// Blur in the middle and in the corner, µm on film.
    blur_um: (f64, f64),
    grain: f64,
}

impl Case {
    fn settings(&self) -> Settings {
        let slope = |degrees: f64| degrees.to_radians().tan();
        let (centre, corner) = self.blur_um;
        Settings {
            magnification: 0.97 * f64::from(SIDE_PX) * PITCH_UM / 1000.0 / FIELD_MM,
            pitch_um: PITCH_UM,
            width_px: SIDE_PX,
            height_px: SIDE_PX,
            rotation_deg: 0.8,
            blur: Blur { corner_radial_um: corner, corner_tangential_um: corner, ..Blur::even(centre) },
            focus: Focus {
                height_mm: self.height_mm,
                slope: Point::new(slope(self.tilt_deg.0), slope(self.tilt_deg.1)),
                curvature_mm: self.curvature_mm,
                f_number: F_NUMBER,
            },
            perspective: Perspective { distance_mm: 260.0, ..Perspective::default() },
            exposure_stops: -0.2,
            grain: Grain { density_sd: self.grain, correlation_um: 14.0 },
            ..Settings::default()
        }
    }

    fn seen(&self) -> Recognised {
        let card = Card::new([FIELD_MM; 2], Identity::from_number(31)).unwrap();
        let sheets: Vec<_> = card.sheets.into_iter().map(|sheet| (sheet.clone(), Placement::meant(&sheet))).collect();
        let scene = target_scene(&sheets, &TargetPaint::default()).unwrap();
        let capture = Capture::new(self.settings()).unwrap();
        let drawn = render(&scene, &capture, &mut |_| ControlFlow::Continue(())).unwrap();
        let picture: Picture<Linear> = drawn.linear(drawn.whole()).unwrap().unwrap();
        let options = Options { pitch_um: Some(PITCH_UM), effective_f_number: Some(F_NUMBER), ..Options::default() };
        recognise(&mut Held(picture), &options).unwrap_or_else(|error| panic!("{error}"))
    }
}

/// The found figure that a name stands for, and what is true.
type Pair = (&'static str, fn(&AlignmentReport) -> Figure, f64);

impl Case {
    fn truths(&self, r: &Recognised) -> Vec<Pair> {
        // Height and curvature belong to the frame's middle and its corner, as the settings' do.
        let square = FIELD_MM / 0.97 / 2.0;
        let slope = |degrees: f64| degrees.to_radians().tan();
        let corner = self.height_mm + (slope(self.tilt_deg.0) + slope(self.tilt_deg.1)) * square + self.curvature_mm;
        assert_eq!(r.size_px, (SIDE_PX, SIDE_PX));
        vec![
            ("curvature", |s| s.curvature_mm.expect("the squares tell it"), self.curvature_mm),
            ("tilt sideways", |s| s.about_upright_deg, self.tilt_deg.0),
            ("tilt up and down", |s| s.about_level_deg, self.tilt_deg.1),
            ("height in the middle", |s| s.centre_mm, self.height_mm),
            ("height in the lower right corner", |s| s.corners_mm[3], corner),
        ]
    }

    /// How many figures hold the truth in their 95 % interval, of how many: in that of either surface, where two fit.
    fn held(&self) -> (usize, usize) {
        let r = self.seen();
        let surfaces: Vec<&AlignmentReport> = r.alignment.iter().chain(&r.alignment_otherwise).collect();
        println!("{self:?}");
        let pairs = self.truths(&r);
        let held = pairs.iter().filter(|(name, figure, truth)| {
            let found: Vec<Figure> = surfaces.iter().map(|s| figure(s)).collect();
            let told: Vec<String> = found.iter().map(|f| format!("{:.3} ± {:.3}", f.value, f.plus_minus)).collect();
            println!("  {name}: {truth:.3}, found {}", told.join(" or "));
            found.iter().any(|f| (f.value - truth).abs() <= f.plus_minus)
        });
        (held.count(), pairs.len())
    }
}

const PLAIN: Case = Case { tilt_deg: (0.0, 0.0), height_mm: 0.0, curvature_mm: 0.0, blur_um: (15.0, 15.0), grain: 0.0 };

#[test]
fn a_leaning_card_tells_its_bowl_through_a_lens_that_is_soft_in_the_corners() {
    let case = Case { tilt_deg: (1.2, -0.8), height_mm: 0.3, curvature_mm: -1.2, blur_um: (13.0, 22.0), grain: 0.01 };
    let r = case.seen();
    assert!(r.alignment_otherwise.is_none());
    let surface = r.alignment.as_ref().unwrap();
    for (name, figure, truth) in case.truths(&r) {
        let found = figure(surface);
        assert_close!(found.value, truth, absolute = found.plus_minus, "{name}");
        // A surface that is told: a half-depth is 1.9 mm here.
        assert!(found.plus_minus < 0.4, "{name}: {found:?}");
    }
    // Each corner's share is of its own height; the lens's softness is not misalignment's.
    for corner in &r.softness {
        assert!(corner.report.explained.value < 0.8, "{corner:?}");
    }
}

#[test]
fn straight_on_a_bowl_is_told_either_way_and_no_corner_is_blamed_on_the_lens_alone() {
    let case = Case { curvature_mm: -1.8, height_mm: 0.8, ..PLAIN };
    let r = case.seen();
    let surfaces = [r.alignment.as_ref().unwrap(), r.alignment_otherwise.as_ref().unwrap()];
    let curvatures = surfaces.map(|s| s.curvature_mm.unwrap());
    assert!(curvatures[0].value * curvatures[1].value < 0.0, "{curvatures:?}");
    assert!(curvatures.iter().any(|c| (c.value + 1.8).abs() <= c.plus_minus), "{curvatures:?}");
    assert!(surfaces.iter().all(|s| s.remarks.contains(&measure::AlignmentRemark::EitherWay)));
    assert!(r.softness.iter().all(|s| s.otherwise.is_some()));
}

#[test]
fn tilt_and_curvature_over_a_grid() {
    if testkit::long() {
        return grid();
    }

    let (held, of) = Case { tilt_deg: (0.0, 1.0), grain: 0.02, ..PLAIN }.held();
    assert_eq!(held, of);
}

fn grid() {
    let mut sum = (0, 0);
    for tilt_deg in [(0.0, 0.0), (0.4, 0.3), (1.5, -1.0)] {
        for (curvature_mm, height_mm) in [(0.0, 0.0), (1.2, 0.0), (-1.2, 0.4), (-0.4, 0.8)] {
            for (blur_um, grain) in [((15.0, 15.0), 0.0), ((12.0, 22.0), 0.02)] {
                let (held, of) = Case { tilt_deg, height_mm, curvature_mm, blur_um, grain }.held();
                sum = (sum.0 + held, sum.1 + of);
            }
        }
    }
    println!("{} of {} figures hold the truth", sum.0, sum.1);
    assert!(sum.0 as f64 >= 0.93 * sum.1 as f64, "{sum:?}");
}
