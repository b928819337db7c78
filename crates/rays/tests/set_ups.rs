//! Set-ups in a photographer's words against the black boxes of `optics`, and what is predicted of them.

use optics::{BlackBox, Element, Placed, Train};
use rays::{
    AimError, Behind, CloseUp, CloseUpKind, Criterion, Draw, Iris, Medium, Object, Part, Prescription, Question, Row,
    SetUp, SetUpError, Spectrum, Surface, System, SystemError, Wavelength, form, most_contrast_focus_mm, predict,
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
