//! The test card: what every frame is measured by, with room for a specimen.
//!
//! The card fills the field that is photographed, whatever its size: squares and steps grow with it, so that they
//! cover as many pixels at every magnification, while the rulers keep their true millimetres.

use crate::outline::Outline;
use crate::shape::{Feature, Point, Reflectance, Scene, Shape};
use crate::specimen::{Specimen, specimen};

/// A specimen laid on the card.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// What it is.
    pub specimen: Specimen,
    /// Its length, mm.
    pub length_mm: f64,
    /// Its middle, mm from the middle of the card; [`Laid::in_place`] puts it where the card leaves room.
    pub at: Point,
    /// Turned clockwise, degrees.
    pub turn_deg: f64,
}

impl Laid {
    /// Upright, in the place that a card of that field keeps free.
    pub fn in_place(specimen: Specimen, length_mm: f64, field_mm: f64) -> Self {
        Self { specimen, length_mm, at: SPECIMEN_PLACE * field_mm, turn_deg: 0.0 }
    }
}

/// Why a card cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CardError {
    /// Too small for millimetre ticks, or no size at all.
    #[error("a card for a field of {given_mm} mm cannot be drawn; it must lie between {lowest_mm} and {highest_mm} mm")]
    Field {
        /// As given.
        given_mm: f64,
        /// Smallest.
        lowest_mm: f64,
        /// Largest.
        highest_mm: f64,
    },
    /// A specimen without a length.
    #[error("a specimen of {given_mm} mm cannot be laid on the card; its length must lie between 0.1 mm and the field")]
    Specimen {
        /// As given.
        given_mm: f64,
    },
}

/// Smallest field, mm: two centimetres leave a ruler of ten ticks between the corner squares.
const SMALLEST_FIELD_MM: f64 = 20.0;
/// Largest field, mm.
const LARGEST_FIELD_MM: f64 = 2000.0;

/// Everything on the card below is in shares of the field's width, from its middle.
const SQUARE_SIDE: f64 = 0.078;
const SQUARE_FREE: f64 = 0.030;
const SLANT_DEG: f64 = 5.0;
const SPECIMEN_PLACE: Point = Point::new(-0.175, -0.005);
const STEPS: [f32; 6] = [0.80, 0.40, 0.20, 0.10, 0.05, 0.025];

const GROUND: Reflectance = Reflectance([0.585, 0.580, 0.565]);
const DARK: Reflectance = Reflectance([0.045, 0.045, 0.046]);
const PAPER: Reflectance = Reflectance([0.80, 0.795, 0.775]);
const INK: Reflectance = Reflectance([0.035, 0.035, 0.036]);
const TRAP: Reflectance = Reflectance([0.001, 0.001, 0.001]);

/// Name, place and sense of turn of each slanted square. Both senses occur at every distance from the middle.
const SQUARES: [(&str, Point, f64); 9] = [
    ("centre", Point::new(0.075, 0.0), 1.0),
    ("right", Point::new(0.415, 0.0), -1.0),
    ("top", Point::new(0.06, -0.415), 1.0),
    ("upper middle", Point::new(0.245, -0.245), -1.0),
    ("lower middle", Point::new(0.245, 0.245), 1.0),
    ("top left", Point::new(-0.425, -0.425), -1.0),
    ("top right", Point::new(0.425, -0.425), 1.0),
    ("bottom left", Point::new(-0.425, 0.425), 1.0),
    ("bottom right", Point::new(0.425, 0.425), -1.0),
];

/// A card for a square field of that width, mm, with specimens laid on it.
///
/// Dark squares slanted by 5 degrees either way lie at the centre, half-way out and in the corners; rulers with
/// millimetre ticks (every fifth and tenth longer) along the lower and the left border; six grey steps, each half of
/// the one before; and a black trap.
pub fn test_card(field_mm: f64, specimens: &[Laid]) -> Result<Scene, CardError> {
    if !(SMALLEST_FIELD_MM..=LARGEST_FIELD_MM).contains(&field_mm) {
        let (lowest_mm, highest_mm) = (SMALLEST_FIELD_MM, LARGEST_FIELD_MM);
        return Err(CardError::Field { given_mm: field_mm, lowest_mm, highest_mm });
    }
    if let Some(wrong) = specimens.iter().find(|laid| !(0.1..=field_mm).contains(&laid.length_mm)) {
        return Err(CardError::Specimen { given_mm: wrong.length_mm });
    }
    let mut scene = Scene::new(GROUND);
    for (name, place, sense) in SQUARES {
        add_square(&mut scene, name, place * field_mm, SQUARE_SIDE * field_mm, sense * SLANT_DEG, field_mm);
    }
    add_steps(&mut scene, field_mm);
    add_rulers(&mut scene, field_mm);
    for laid in specimens {
        scene.lay(&specimen(laid.specimen), laid.length_mm, laid.turn_deg, laid.at);
    }
    Ok(scene)
}

fn add_square(scene: &mut Scene, name: &str, centre: Point, side_mm: f64, turn_deg: f64, field_mm: f64) {
    let outline = Outline::square_corners(centre, [0.5 * side_mm; 2], turn_deg);
    scene.shapes.push(Shape::flat(outline, DARK));
    scene.features.push(Feature::Square {
        name: name.into(),
        centre,
        side_mm,
        turn_deg,
        free_mm: SQUARE_FREE * field_mm,
        dark: f64::from(DARK.0[1]),
        bright: f64::from(GROUND.0[1]),
    });
}

fn add_patch(scene: &mut Scene, name: String, centre: Point, size_mm: [f64; 2], reflectance: Reflectance) {
    scene.shapes.push(Shape::flat(Outline::rectangle(centre, size_mm[0], size_mm[1]), reflectance));
    scene.features.push(Feature::Patch {
        name,
        centre,
        size_mm,
        turn_deg: 0.0,
        reflectance: f64::from(reflectance.0[1]),
    });
}

/// A column of steps between the centre and the right-hand square, with the trap beside it.
fn add_steps(scene: &mut Scene, field_mm: f64) {
    let size = 0.055 * field_mm;
    for (i, &share) in STEPS.iter().enumerate() {
        let (column, row) = ((i % 2) as f64, (i / 2) as f64);
        let centre = Point::new(0.212 + 0.066 * column, -0.066 + 0.066 * row) * field_mm;
        add_patch(scene, format!("step {}", i + 1), centre, [size; 2], Reflectance::grey(share));
    }
    let centre = Point::new(0.415, -0.19) * field_mm;
    let rim = Outline::Disc { centre, radius: 0.042 * field_mm };
    scene.shapes.push(Shape::flat(rim, PAPER));
    let hole = Outline::Disc { centre, radius: 0.034 * field_mm };
    scene.shapes.push(Shape::flat(hole, TRAP));
    let size_mm = [0.048 * field_mm; 2];
    let reflectance = f64::from(TRAP.0[1]);
    scene.features.push(Feature::Patch { name: "trap".into(), centre, size_mm, turn_deg: 0.0, reflectance });
}

fn add_rulers(scene: &mut Scene, field_mm: f64) {
    let length = (0.68 * field_mm / 5.0).floor() * 5.0;
    // Seen from the ruler's own start, ticks go along x and their lower ends stand on y = 0.
    for (name, turn_deg, shift) in [
        ("bottom", 0.0, Point::new(-0.5 * length, 0.487 * field_mm)),
        ("left", 90.0, Point::new(-0.487 * field_mm, -0.5 * length)),
    ] {
        let place = |p: Point| p.turned(turn_deg) + shift;
        let depth = 0.045 * field_mm;
        let outline = Outline::rectangle(Point::new(0.5 * length, -0.5 * depth), length + 4.0, depth);
        scene.shapes.push(Shape::flat(outline.placed(1.0, turn_deg, shift), PAPER));
        let ticks = length as usize + 1;
        for i in 0..ticks {
            let height = depth
                * if i % 10 == 0 {
                    0.62
                } else if i % 5 == 0 {
                    0.5
                } else {
                    0.36
                };
            let (from, to) = (Point::new(i as f64, 0.0), Point::new(i as f64, -height));
            let tick = Outline::Strip { from: place(from), to: place(to), width: TICK_WIDTH_MM };
            scene.shapes.push(Shape::flat(tick, INK));
        }
        let line = -0.2 * depth;
        scene.features.push(Feature::Ruler {
            name: name.into(),
            first: place(Point::new(0.0, line)),
            last: place(Point::new(length, line)),
            tick_mm: 1.0,
            ticks,
        });
    }
}

/// Across, mm: several pixels at life size, still more than one where a whole hand's breadth fills the frame.
const TICK_WIDTH_MM: f64 = 0.18;
