//! Set-ups in a photographer's words against the black boxes of `optics`, and what is predicted of them.

use optics::{BlackBox, Element, Placed, Train};
use rays::{
    AimError, Behind, CloseUp, CloseUpKind, Criterion, Draw, Ideal, Iris, Medium, Object, Part, Prescription, Question,
    Row, SetUp, SetUpError, Spectrum, Surface, System, SystemError, Wavelength, form, most_contrast_focus_mm, predict,
};
use testkit::assert_close;

const REGISTER: f64 = 74.0;

fn lens(key: &str, focal_length: f64) -> Prescription {
    form(key).unwrap().scaled_to(focal_length).unwrap()
}

/// The lens as a black box: what a person would enter of it.
fn black_box(lens: &Prescription, f_number: f64) -> BlackBox<f64> {
    let traced = lens.at(Wavelength::D);
    let cardinal = traced.cardinal().unwrap();
    BlackBox {
        focal_length: cardinal.focal_length_mm,
        separation: cardinal.separation_mm,
        pupil_ratio: traced.pupils(lens.stop().unwrap()).ratio().unwrap(),
        f_number,
        length: lens.length_mm() + cardinal.back_focus_mm - REGISTER,
        register: REGISTER,
    }
}

/// Any glass with its last vertex `last` mm in front of the film.
fn element(lens: &Prescription, last: f64) -> (Element<f64>, f64) {
    let traced = lens.at(Wavelength::D);
    let (power, first) = (-traced.abcd().c, last + lens.length_mm());
    let cardinal = traced.cardinal().unwrap();
    let back = last - cardinal.rear_principal_mm;
    (Element { power, front: first - cardinal.front_principal_mm, back }, first)
}

fn train(placed: &Placed<f64>, others: Vec<Element<f64>>, front: f64) -> Train<f64> {
    Train { elements: [vec![placed.element], others].concat(), stops: vec![placed.stop], front }
}

/// Magnification, effective f-number and free distance: the train's against the traced set-up's in its paraxial limit.
fn same(train: &Train<f64>, system: &System) {
    let (image, first) = (train.image().unwrap(), system.first_order(Wavelength::D));
    assert_close!(system.magnification(Wavelength::D).unwrap(), image.magnification, relative = 1e-9);
    assert_close!(first.f_number, 0.5 / image.film_slope, relative = 1e-9);
    let Object::At { distance_mm } = system.object() else { panic!("near") };
    assert_close!(distance_mm, image.subject.unwrap() - train.front, relative = 1e-9);
}

const KEYS: [&str; 4] = ["double-gauss-1954", "telephoto", "triplet-derived-1903", "fisheye"];

#[test]
fn tubes_are_the_black_boxes_tubes() {
    for key in KEYS {
        let (lens, f_number) = (lens(key, 80.0), 11.0);
        for mm in [16.0, 40.0, 160.0] {
            // A fisheye's sharp plane soon lies within its own glass.
            if key == "fisheye" && mm > 16.0 {
                continue;
            }
            let placed = black_box(&lens, f_number).seated(REGISTER + mm, 0.0, 0);
            let set_up = SetUp { draw: Draw::Extension { mm }, ..SetUp::alone(lens.clone(), f_number) };
            let system = set_up.system(Wavelength::D).unwrap();
            same(&train(&placed, vec![], placed.front), &system);
            assert_close!(system.magnification(Wavelength::D).unwrap(), mm / 80.0, relative = 1e-9);
        }
    }
}

#[test]
fn a_reversed_lens_is_the_black_box_reversed() {
    for key in KEYS {
        let (lens, f_number) = (lens(key, 80.0), 8.0);
        for to_film in [180.0, 260.0] {
            let placed = black_box(&lens, f_number).reversed(to_film, 0.0, 0);
            // The black box ends at its seat; the glass that now faces the subject lies where the back focus says.
            let front = to_film + lens.length_mm();
            let set_up =
                SetUp { reversed: true, draw: Draw::ToFilm { mm: to_film }, ..SetUp::alone(lens.clone(), f_number) };
            same(&train(&placed, vec![], front), &set_up.system(Wavelength::D).unwrap());
        }
    }
}

#[test]
fn close_up_lenses_and_coupled_lenses_go_in_front_as_in_the_train() {
    let (main, f_number) = (lens("telephoto", 160.0), 8.0);
    let close_up = CloseUp { power_dpt: 4.0, diameter_mm: 58.0, kind: CloseUpKind::Achromat }.prescription().unwrap();
    let coupled = lens("double-gauss-1954", 50.0).reversed();
    for (in_front, gap) in [(close_up.clone(), 6.0), (close_up.reversed(), 6.0), (coupled, 12.0)] {
        for extension in [0.0, 30.0] {
            let placed = black_box(&main, f_number).seated(REGISTER + extension, 0.0, 0);
            let (other, front) = element(&in_front, placed.front + gap);
            let set_up = SetUp {
                in_front: vec![Part { lens: in_front.clone(), gap_after_mm: gap }],
                draw: Draw::Extension { mm: extension },
                ..SetUp::alone(main.clone(), f_number)
            };
            same(&train(&placed, vec![other], front), &set_up.system(Wavelength::D).unwrap());
        }
    }
}

/// A hollow lens behind, as a converter of one glass.
#[test]
fn a_converter_goes_behind_as_in_the_train() {
    let (main, f_number) = (lens("double-gauss-1954", 80.0), 5.6);
    let hollow = Prescription::new(vec![Row::sphere(-90.0, 2.0, Medium::patent(1.6, 60.0)), Row::last(400.0)]).unwrap();
    let (gap, film) = (20.0, 110.0);
    let behind = vec![Behind { gap_before_mm: gap, lens: hollow.clone() }];
    let set_up = SetUp { behind, draw: Draw::ToFilm { mm: film }, ..SetUp::alone(main.clone(), f_number) };
    let (converter, first) = element(&hollow, film);
    let back_focus = main.at(Wavelength::D).cardinal().unwrap().back_focus_mm;
    let placed = black_box(&main, f_number).seated(REGISTER + first + gap - back_focus, 0.0, 1);
    let train = Train { elements: vec![converter, placed.element], stops: vec![placed.stop], front: placed.front };
    same(&train, &set_up.system(Wavelength::D).unwrap());
    // Extension counts from where the lens with its converter is sharp at infinity.
    let at_infinity = SetUp { draw: Draw::Extension { mm: 0.0 }, ..set_up };
    assert_eq!(at_infinity.system(Wavelength::D).unwrap().object(), Object::Infinity);
}

#[test]
fn a_wanted_magnification_is_met() {
    let close_up = CloseUp { power_dpt: 2.0, diameter_mm: 58.0, kind: CloseUpKind::Meniscus }.prescription().unwrap();
    for reversed in [false, true] {
        for in_front in [vec![], vec![Part { lens: close_up.clone(), gap_after_mm: 5.0 }]] {
            let main = lens("double-gauss-1954", 80.0);
            let draw = Draw::Magnification { ratio: 1.5 };
            let set_up = SetUp { reversed, in_front, draw, ..SetUp::alone(main, 8.0) };
            let system = set_up.system(Wavelength::D).unwrap();
            assert_close!(system.magnification(Wavelength::D).unwrap(), 1.5, relative = 1e-12);
        }
    }
    let alone = SetUp::alone(lens("double-gauss-1954", 80.0), 8.0).system(Wavelength::D).unwrap();
    assert_eq!((alone.object(), alone.magnification(Wavelength::D)), (Object::Infinity, None));
}

#[test]
fn set_ups_that_cannot_be_are_refused() {
    let alone = SetUp::alone(lens("double-gauss-1954", 80.0), 8.0);
    let refused = |set_up: SetUp| set_up.system(Wavelength::D).expect_err("refused");
    assert_eq!(refused(SetUp { f_number: 0.0, ..alone.clone() }), SetUpError::FNumber(0.0));
    let close_up = CloseUp { power_dpt: 2.0, diameter_mm: 58.0, kind: CloseUpKind::Meniscus }.prescription().unwrap();
    assert_eq!(refused(SetUp { lens: close_up, ..alone.clone() }), SetUpError::NoFNumber);
    for ratio in [0.0, -1.0] {
        let set_up = SetUp { draw: Draw::Magnification { ratio }, ..alone.clone() };
        assert_eq!(refused(set_up), SetUpError::Magnification(ratio));
    }
    // Nearer than at infinity nothing real is sharp; farther in than the glass there is no film.
    let near = SetUp { draw: Draw::Extension { mm: -5.0 }, ..alone.clone() };
    assert_eq!(refused(near), SetUpError::System(SystemError::NoFocus));
    let inside = SetUp { draw: Draw::Extension { mm: -500.0 }, ..alone.clone() };
    assert!(matches!(refused(inside), SetUpError::System(SystemError::Film { .. })));
    // A plane plate with a stop has no focal length.
    let plate = vec![
        Row { stop: true, ..Row::new(Surface::PLANE, Some(2.0), Medium::Constant(1.5)) },
        Row::new(Surface::PLANE, None, Medium::Air),
    ];
    let plate = Prescription::new(plate).unwrap();
    assert_eq!(refused(SetUp { lens: plate, ..alone.clone() }), SetUpError::NoFNumber);
    // A coupled lens's own iris, opened to nothing.
    let triplet = lens("triplet-derived-1903", 80.0);
    assert!(matches!(triplet.opened_to(1.4, Wavelength::D), Err(SetUpError::Opening { .. })));
    assert!(matches!(alone.lens.opened_to(f64::NAN, Wavelength::D), Err(SetUpError::FNumber(_))));
}

/// A coupled lens's own iris cuts what the other would let through: the bundle it takes at f/16, life size and parallel
/// between both, is half as wide as at f/8.
#[test]
fn a_coupled_lenss_own_iris_cuts() {
    let rear = lens("double-gauss-1954", 80.0);
    let light = |front_stop: f64| {
        let front = rear.opened_to(front_stop, Wavelength::D).unwrap().reversed();
        let set_up = SetUp {
            in_front: vec![Part { lens: front, gap_after_mm: 10.0 }],
            draw: Draw::Extension { mm: 0.0 },
            ..SetUp::alone(rear.clone(), 8.0)
        };
        let system = set_up.system(Wavelength::D).unwrap();
        system.pencil(0.0, &Spectrum::one(Wavelength::D), 64).unwrap().light()
    };
    // Spherical aberration moves the rim by parts in a thousand.
    assert_close!(light(16.0) / light(4.0), 0.25, relative = 5e-3);
}

fn question(film_mm: Vec<f64>) -> Question {
    Question {
        film_mm,
        cycles_per_mm: vec![0.0, 20.0],
        spectrum: Spectrum::visible(),
        focus: Criterion::MostContrast { film_mm: vec![0.0], cycles_per_mm: 20.0 },
    }
}

/// A symmetrical lens at life size has no distortion and no lateral colour (textbooks' law of symmetry; Welford,
/// *Aberrations of Optical Systems*, 1986, 6.4, from memory): the stop's middle images onto itself in every colour.
#[test]
fn symmetry_takes_distortion_and_lateral_colour_away() {
    let draw = Draw::Magnification { ratio: 1.0 };
    let set_up = SetUp { draw, ..SetUp::alone(lens("symmetrical", 80.0), 16.0) };
    let system = set_up.system(Wavelength::D).unwrap();
    let wanted = Question { focus: Criterion::AsItIs, ..question(vec![0.0, 14.0, 28.0]) };
    let predicted = predict(&system, &wanted).unwrap();
    assert_close!(predicted.focus_mm, 0.0, absolute = 0.0);
    for zone in predicted.zones.iter().map(|zone| zone.as_ref().unwrap()) {
        assert_close!(zone.distortion, 0.0, absolute = 1e-12);
        // Not to the last digit: film and subject lie at life size for d, and for F and C beside their own.
        for (_, outward) in &zone.colours_mm {
            assert_close!(*outward, 0.0, absolute = 2e-4);
        }
        assert_close!(zone.transfer[0].sagittal, 1.0, absolute = 1e-12);
        assert_eq!(zone.census.arrived() + zone.census.losses.total() + zone.census.unaimed, zone.census.sent);
    }
    assert_close!(predicted.zones[0].as_ref().unwrap().illumination, 1.0, absolute = 1e-12);
}

/// What is told of a place is what its pencil says at the film where it was focused.
#[test]
fn a_prediction_is_its_pencils() {
    let draw = Draw::Magnification { ratio: 1.0 };
    let set_up = SetUp { draw, ..SetUp::alone(lens("double-gauss-1954", 80.0), 16.0) };
    let system = set_up.system(Wavelength::D).unwrap();
    let predicted = predict(&system, &question(vec![28.0])).unwrap();
    let axis = system.pencil(0.0, &Spectrum::visible(), 64).unwrap();
    assert_close!(predicted.focus_mm, most_contrast_focus_mm(std::slice::from_ref(&axis), 20.0, 3.0), absolute = 2e-2);
    let zone = predicted.zones[0].as_ref().unwrap();
    let pencil = system.pencil(zone.field, &Spectrum::visible(), 64).unwrap();
    assert_close!(pencil.film_mm.abs(), 28.0, absolute = 1e-8);
    let told = pencil.transfer(predicted.focus_mm, &[20.0], |_| 1.0)[0];
    assert_close!(zone.transfer[1].sagittal, told.sagittal, absolute = 2e-3);
    assert_close!(zone.transfer[1].tangential.contrast(), told.tangential.contrast(), absolute = 2e-3);
    assert_close!(zone.illumination, pencil.light() / axis.light(), relative = 1e-3);
    // By chief rays alone the colours lie within a few micrometres of where the middle of their light does.
    let chief = system.lateral_colour_mm(zone.field, Wavelength::F, Wavelength::D).unwrap() * pencil.film_mm.signum();
    assert_close!(zone.colours_mm[0].1, chief, absolute = 5e-3);
    assert_eq!((predicted.magnification.is_some(), predicted.subject_mm.is_some()), (true, true));
    // F is sharp nearer to the lens than d, or farther: the same as the paraxial pictures say.
    let axial = system.axial_colour_mm(Wavelength::F, Wavelength::D);
    assert_close!(predicted.axial_mm[0].1, axial, absolute = 1e-12);
}

/// The three criteria on a lens without aberration agree; with the film elsewhere they bring it back.
#[test]
fn every_criterion_finds_the_focus_of_a_perfect_lens() {
    let n = 1.5168f64;
    let plane = Row { stop: true, ..Row::new(Surface::PLANE, Some(5.0), Medium::Constant(n)) };
    let rows = vec![plane, Row::new(Surface::conic(-40.0, -n * n), None, Medium::Air)];
    let lens = Prescription::new(rows).unwrap();
    let focal = 40.0 / (n - 1.0);
    let iris = Iris { part: 0, semi_diameter_mm: focal / 16.0 };
    let parts = [Part { lens, gap_after_mm: focal + 0.3 }];
    let system = System::new(Object::Infinity, &parts, iris).unwrap();
    let spot = Criterion::LeastSpot { film_mm: vec![0.0] };
    let contrast = Criterion::MostContrast { film_mm: vec![0.0], cycles_per_mm: 20.0 };
    for (focus, off) in [(Criterion::AsItIs, 0.0), (spot, -0.3), (contrast, -0.3)] {
        let found = predict(&system, &Question { focus, ..question(vec![0.0]) }).unwrap();
        assert_close!(found.focus_mm, off, absolute = 2e-3);
    }
}

/// Places that no light reaches say so and take nothing from the others; a dark axis is an error.
#[test]
fn dark_places_are_told() {
    let set_up = SetUp::alone(lens("telephoto", 160.0), 16.0);
    let predicted = predict(&set_up.system(Wavelength::D).unwrap(), &question(vec![0.0, 80.0])).unwrap();
    assert!(predicted.zones[0].is_ok());
    assert!(matches!(
        predicted.zones[1],
        Err(AimError::Dark { .. } | AimError::NoChief { .. } | AimError::NotReached { .. })
    ));
    let dark = Question { focus: Criterion::LeastSpot { film_mm: vec![80.0] }, ..question(vec![0.0]) };
    assert!(predict(&set_up.system(Wavelength::D).unwrap(), &dark).is_err());
}

/// Where the aberration is hundreds of waves, rays tell the contrast: f/4 behind a strong single close-up lens.
#[test]
fn large_aberrations_are_told_by_rays() {
    let close_up = CloseUp { power_dpt: 10.0, diameter_mm: 58.0, kind: CloseUpKind::PlanoConvex };
    let in_front = vec![Part { lens: close_up.prescription().unwrap(), gap_after_mm: 6.0 }];
    let set_up = SetUp { in_front, ..SetUp::alone(lens("double-gauss-1954", 160.0), 4.0) };
    let wanted = Question { focus: Criterion::AsItIs, ..question(vec![0.0, 38.0]) };
    let predicted = predict(&set_up.system(Wavelength::D).unwrap(), &wanted).unwrap();
    let corner = predicted.zones[1].as_ref().unwrap();
    assert!(corner.by_rays && corner.spot.rms_mm() > 0.5, "{:?}", corner.spot);
}

/// 331 rays in ten rings over the stop: exactly those beyond half its radius end at a rim half as wide.
#[test]
fn a_census_counts_what_a_rim_takes() {
    let rows = vec![
        Row { stop: true, ..Row::new(Surface::PLANE, Some(10.0), Medium::Air) },
        Row::new(Surface::PLANE, None, Medium::Air).clear(0.5501),
    ];
    let parts = [Part { lens: Prescription::new(rows).unwrap(), gap_after_mm: 50.0 }];
    let iris = Iris { part: 0, semi_diameter_mm: 1.0 };
    let system = System::new(Object::At { distance_mm: 100.0 }, &parts, iris).unwrap();
    let census = system.census(0.0, Wavelength::D, 10).unwrap();
    let within = 1 + 6 * (1 + 2 + 3 + 4 + 5);
    assert_eq!((census.sent, census.arrived(), census.unaimed), (331, within, 0));
    assert_eq!((census.losses.cut, census.by_row), (331 - within, vec![(2, 331 - within)]));
}

/// Parallel light inside glass meets a sphere of 10 mm at sin I = y/10: from y = 10/1.5 on it is totally reflected. Rings lie
/// 0.9 mm apart.
#[test]
fn a_census_counts_total_reflection() {
    let glass = Medium::Constant(1.5);
    let rows = vec![
        Row { stop: true, ..Row::new(Surface::PLANE, Some(12.0), glass) },
        Row::new(Surface::sphere(-10.0), None, Medium::Air),
    ];
    let parts = [Part { lens: Prescription::behind(glass, rows).unwrap(), gap_after_mm: 50.0 }];
    let system = System::new(Object::Infinity, &parts, Iris { part: 0, semi_diameter_mm: 9.0 }).unwrap();
    let census = system.census(0.0, Wavelength::D, 10).unwrap();
    assert_eq!(census.losses.reflected, 6 * (8 + 9 + 10));
    assert_eq!(census.arrived(), 331 - 162);
}

/// A doubler of the trade that stands 80 mm in front of the film: 1/80 = 1/40 + φ.
const DOUBLER: Ideal = Ideal { power_per_mm: 1.0 / 80.0 - 1.0 / 40.0, before_film_mm: 80.0 };

/// Glass with a converter without faults between it and the film.
fn doubled(lens: &Prescription, f_number: f64, to_film: f64) -> SetUp {
    SetUp { ideals: vec![DOUBLER], draw: Draw::ToFilm { mm: to_film }, ..SetUp::alone(lens.clone(), f_number) }
}

/// Size, light and place of the subject are the train's of black boxes with a thin element (separate code).
#[test]
fn a_converter_without_faults_is_the_trains_thin_element() {
    for (key, seat) in [("double-gauss-1954", 130.0), ("triplet-derived-1903", 150.0), ("telephoto", 125.0)] {
        let (lens, f_number) = (lens(key, 80.0), 8.0);
        let placed = black_box(&lens, f_number).seated(seat, 0.0, 1);
        let to_film = seat - REGISTER + lens.at(Wavelength::D).cardinal().unwrap().back_focus_mm;
        let system = doubled(&lens, f_number, to_film).system(Wavelength::D).unwrap();
        let thin = Element { power: DOUBLER.power_per_mm, front: 80.0, back: 80.0 };
        let train = Train { elements: vec![thin, placed.element], stops: vec![placed.stop], front: placed.front };
        same(&train, &system);
        assert_close!(system.film_mm(), to_film, relative = 1e-12);
    }
    // A size that is asked for is the size on film, and an extension counts at the lens.
    let lens = lens("double-gauss-1954", 80.0);
    let size = |draw| {
        let set_up = SetUp { ideals: vec![DOUBLER], draw, ..SetUp::alone(lens.clone(), 8.0) };
        set_up.system(Wavelength::D).unwrap().magnification(Wavelength::D).unwrap()
    };
    assert_close!(size(Draw::Magnification { ratio: 0.7 }), 0.7, relative = 1e-9);
    assert_close!(size(Draw::Extension { mm: 20.0 }), 2.0 * 20.0 / 80.0, relative = 1e-9);
}

/// A perfect lens stays perfect: a plane and a hyperboloid of −n² bring light from infinity to a point without any aberration
/// (Descartes), with a converter behind it too, at twice the f-number.
#[test]
fn behind_a_perfect_lens_a_converter_without_faults_is_perfect() {
    let n: f64 = 1.5;
    let hyperboloid = Surface { conic: -n * n, ..Surface::sphere(-25.0) };
    let rows = vec![
        Row::iris(1.0),
        Row::new(Surface::PLANE, Some(8.0), Medium::Constant(n)),
        Row::new(hyperboloid, None, Medium::Air),
    ];
    let lens = Prescription::new(rows).unwrap();
    // f = R/(n − 1) = 50 mm from the last vertex; the film 40 mm beyond, where the doubler puts the picture.
    let (colour, open) = (Spectrum::one(Wavelength::D), 4.0);
    let perfect = |set_up: SetUp, lp: f64| {
        let system = set_up.system(Wavelength::D).unwrap();
        let pencil = system.pencil(0.0, &colour, 64).unwrap();
        assert_close!(pencil.waves(0.0)[0].peak_to_valley, 0.0, absolute = 1e-6);
        assert_close!(pencil.spot(0.0).farthest_mm, 0.0, absolute = 1e-9);
        (system.first_order(Wavelength::D).f_number, pencil.transfer(0.0, &[lp], |_| 1.0)[0].sagittal)
    };
    let bare = SetUp { draw: Draw::ToFilm { mm: 50.0 }, ..SetUp::alone(lens.clone(), open) };
    let (bare, finer) = perfect(bare, 60.0);
    assert_close!(bare, 4.0, relative = 1e-9);
    let (f_number, contrast) = perfect(doubled(&lens, open, 90.0), 30.0);
    assert_close!(f_number, 8.0, relative = 1e-9);
    assert_close!(contrast, finer, absolute = 1e-6);
    // A perfect lens's closed form; this one keeps no sine condition, so that its cone is not evenly bright.
    assert_close!(contrast, optics::diffraction_mtf(Wavelength::D.mm(), 8.0, 30.0), absolute = 6e-3);
}

/// On film stands the lens's own picture twice as large: the same wave, patterns half as fine, the same light and distortion.
#[test]
fn the_faults_of_the_lens_are_enlarged_and_none_are_added() {
    let lens = lens("double-gauss-1954", 80.0);
    let back = lens.at(Wavelength::D).cardinal().unwrap().back_focus_mm;
    let own = SetUp { draw: Draw::ToFilm { mm: back + 20.0 }, ..SetUp::alone(lens.clone(), 5.6) };
    let (own, with) =
        (own.system(Wavelength::D).unwrap(), doubled(&lens, 5.6, back + 60.0).system(Wavelength::D).unwrap());
    let question = |scale: f64| Question {
        film_mm: vec![0.0, 5.0 * scale, 9.0 * scale],
        cycles_per_mm: vec![20.0 / scale, 40.0 / scale],
        spectrum: Spectrum::visible(),
        focus: Criterion::AsItIs,
    };
    let (own, with) = (predict(&own, &question(1.0)).unwrap(), predict(&with, &question(2.0)).unwrap());
    assert_close!(with.f_number, 2.0 * own.f_number, relative = 1e-9);
    assert_close!(with.film_mm, own.film_mm + 40.0, relative = 1e-9);
    for (own, with) in own.zones.iter().zip(&with.zones) {
        let (own, with) = (own.as_ref().unwrap(), with.as_ref().unwrap());
        assert_close!(with.field, own.field, absolute = 1e-7);
        // Waves count from planes: where a ray misses by ε, the exit pupil's other place makes ε²/2R of it, 0.03²/80 mm here.
        assert_close!(with.waves, own.waves, absolute = 0.02);
        // Light is counted by the directions of one subject point's rays; where the field curves by 0.4 mm these meet the film at
        // different places, whose directions the converter turns differently: half a per cent of the pupil's width.
        assert_close!(with.illumination, own.illumination, relative = 1e-2);
        assert_close!(with.distortion, own.distortion, absolute = 1e-9);
        assert_close!(with.spot.rms_mm(), 2.0 * own.spot.rms_mm(), relative = 5e-3);
        for (own, with) in own.transfer.iter().zip(&with.transfer) {
            // The same again, and three in a thousand for the rims of 64 cells (head of `transfer`).
            assert_close!(with.sagittal, own.sagittal, absolute = 5e-3);
            assert_close!(with.tangential.contrast(), own.tangential.contrast(), absolute = 5e-3);
        }
        for ((_, own), (_, with)) in own.colours_mm.iter().zip(&with.colours_mm) {
            // The middle of the light, by the same directions: a fifth of a micrometre.
            assert_close!(*with, 2.0 * own, absolute = 2e-4);
        }
        // Along the axis by the square, less what the thin lens makes of the way: 1/(1/s + φ).
        let along = |mm: f64| 1.0 / (1.0 / (40.0 + mm) - 1.0 / 80.0) - 80.0;
        assert_close!(with.field_focus.sagittal_mm, along(own.field_focus.sagittal_mm), absolute = 1e-9);
        assert_close!(with.field_focus.tangential_mm, along(own.field_focus.tangential_mm), absolute = 1e-9);
    }
}

/// Moving the film behind a converter is as the thin lens has it: the plane that is sharp lies where the train says.
#[test]
fn a_film_that_is_moved_takes_the_best_case_with_it() {
    let lens = lens("double-gauss-1954", 80.0);
    let back = lens.at(Wavelength::D).cardinal().unwrap().back_focus_mm;
    let system = doubled(&lens, 8.0, back + 60.0).system(Wavelength::D).unwrap();
    let moved = system.clone().with_film_moved(1.5).unwrap();
    assert_close!(moved.film_mm(), system.film_mm() + 1.5, relative = 1e-12);
    assert_close!(moved.first_order(Wavelength::D).image_mm, system.film_mm(), relative = 1e-9);
    assert_close!(moved.with_film_in_focus(Wavelength::D).unwrap().film_mm(), system.film_mm(), relative = 1e-9);
    let lost = SetUp { ideals: vec![Ideal { before_film_mm: -3.0, ..DOUBLER }], ..SetUp::alone(lens, 8.0) };
    let why = lost.system(Wavelength::D).unwrap_err().to_string();
    assert!(why.contains("-3 mm in front of the film"), "{why}");
}
