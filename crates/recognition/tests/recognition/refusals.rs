//! Pictures that are no card's are refused by name.

use crate::common::Noise;
use planes::{Linear, Picture, Plane};
use recognition::{Held, Options, RecogniseError, recognise};
use target::{CodeError, CodeText, Corner, Identity, Part};

type Refusal = RecogniseError<std::convert::Infallible>;

fn refusal(plane: Plane<Linear>) -> Refusal {
    recognise(&mut Held(Picture::grey(plane)), &Options::default()).unwrap_err()
}

/// A code of any text in the middle of white, eight pixels to a module.
fn coded(text: &str) -> Plane<Linear> {
    let code = qrcode::QrCode::new(text).unwrap();
    let (side, dots) = (code.width(), code.to_colors());
    Plane::from_fn(500, 500, |c, r| {
        let module = |v: usize| v.checked_sub(100).map(|v| v / 8).filter(|v| *v < side);
        match (module(c), module(r)) {
            (Some(c), Some(r)) if dots[r * side + c] == qrcode::Color::Dark => 0.05,
            _ => 0.8,
        }
    })
    .unwrap()
}

fn text() -> String {
    let identity = Identity::from_number(99);
    CodeText { field_tenths: [800, 800], part: Part::Whole, corner: Corner::TopLeft, identity }.text()
}

#[test]
fn an_empty_picture_and_random_texture_hold_no_code() {
    let even = Plane::from_fn(400, 300, |_, _| 0.5).unwrap();
    assert_eq!(refusal(even), Refusal::NoCode);
    let black = Plane::from_fn(400, 300, |_, _| 0.0).unwrap();
    assert_eq!(refusal(black), Refusal::NoCode);
    let mut noise = Noise(3);
    let coarse: Vec<f32> = (0..100 * 100).map(|_| noise.uniform() as f32).collect();
    let texture = Plane::from_fn(700, 700, |c, r| coarse[(r / 7) * 100 + c / 7]).unwrap();
    assert_eq!(refusal(texture), Refusal::NoCode);
    let fine: Vec<f32> = (0..500 * 500).map(|_| noise.uniform() as f32).collect();
    assert_eq!(refusal(Plane::new(500, 500, fine).unwrap()), Refusal::NoCode);
}

#[test]
fn broken_numbers_hold_no_code() {
    let broken = Plane::from_fn(400, 300, |c, _| if c % 2 == 0 { f32::NAN } else { 0.4 }).unwrap();
    assert_eq!(refusal(broken), Refusal::NoCode);
}

#[test]
fn a_small_picture_is_refused_by_its_size() {
    let small = Plane::from_fn(159, 400, |_, _| 0.5).unwrap();
    assert_eq!(refusal(small), Refusal::TooSmall { width: 159, height: 400, least: 160 });
}

#[test]
fn a_foreign_code_is_told_from_none() {
    let found = refusal(coded("HTTPS://EXAMPLE.ORG/BEETLES"));
    assert!(matches!(found, Refusal::ForeignCodes { count: 1.. }), "{found:?}");
}

#[test]
fn damaged_and_later_codes_are_told_apart() {
    let mut damaged = text();
    damaged.replace_range(12..13, "Z");
    assert_eq!(CodeText::read(&damaged), Err(CodeError::Damaged));
    assert_eq!(refusal(coded(&damaged)), Refusal::DamagedCode);
    // The next layout's mark with the check that fits it, which is tried out.
    let digits = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    let head = format!("CW2{}", &text()[3..16]);
    let endings = digits.chars().flat_map(|a| digits.chars().map(move |b| format!("{a}{b}")));
    let later = endings.map(|end| format!("{head}{end}")).find(|t| CodeText::read(t) == Err(CodeError::Later));
    assert_eq!(refusal(coded(&later.unwrap())), Refusal::LaterLayout);
}

#[test]
fn a_code_without_its_card_is_no_card() {
    assert_eq!(refusal(coded(&text())), Refusal::TooFewSquares { found: 0, least: 2 });
}

#[test]
fn a_field_that_no_card_has_is_refused() {
    let identity = Identity::from_number(99);
    let text = CodeText { field_tenths: [800, 100], part: Part::Whole, corner: Corner::TopLeft, identity }.text();
    assert_eq!(refusal(coded(&text)), Refusal::NoSuchCard { width_mm: 80.0, height_mm: 10.0 });
}
