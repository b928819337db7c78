//! Layouts: nothing overlaps, everything can be laid out again from a code.

use target::{Card, CodeError, CodeText, Corner, Identity, Mark, Part, Radial, Sheet, Zone, dots};
use testkit::assert_close;

fn fields() -> Vec<[f64; 2]> {
    let mut fields = Vec::new();
    for width in [15.0, 18.3, 23.0, 29.9, 30.0, 44.4, 59.9, 60.0, 83.0, 120.0, 180.0, 181.0, 260.0, 400.0] {
        for shape in [1.0, 0.74, 1.35, 2.0 / 3.0, 1.0 / 2.9, 2.9] {
            let height: f64 = width * shape;
            if (15.0..=400.0).contains(&height) {
                fields.push([width, height]);
            }
        }
    }
    fields
}

fn sheets() -> impl Iterator<Item = Sheet> {
    fields().into_iter().flat_map(|field| Card::new(field, Identity::from_number(7)).expect("lies in range").sheets)
}

/// Axis-parallel boxes that hold each mark with the white it needs: left, top, right, bottom.
fn boxes(sheet: &Sheet) -> Vec<(String, [f64; 4])> {
    let around = |[x, y]: [f64; 2], w: f64, h: f64| [x - w / 2.0, y - h / 2.0, x + w / 2.0, y + h / 2.0];
    let hull = |points: &[[f64; 2]]| {
        points.iter().fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |b, p| {
            [b[0].min(p[0]), b[1].min(p[1]), b[2].max(p[0]), b[3].max(p[1])]
        })
    };
    sheet
        .marks
        .iter()
        .map(|mark| match mark {
            Mark::Code(it) => ("code".to_owned(), around(it.centre, it.side_mm, it.side_mm)),
            Mark::Square(it) => (it.name.to_owned(), hull(&it.corners())),
            Mark::Ruler(it) => {
                let longest = it.lengths_mm[2];
                let [dx, dy] = if it.name == "level" { [it.line_mm, longest] } else { [longest, it.line_mm] };
                let ends = [it.first, it.last];
                let b = hull(&ends);
                (it.name.to_owned(), [b[0] - dx / 2.0, b[1] - dy / 2.0, b[2] + dx / 2.0, b[3] + dy / 2.0])
            }
            Mark::Step(it) => (format!("step {}", it.number), around(it.centre, it.size_mm[0], it.size_mm[1])),
            Mark::Trap(it) => ("trap".to_owned(), around(it.centre, it.side_mm, it.side_mm)),
            Mark::Ramp(it) => (format!("ramp {}", it.name), around(it.centre, it.width_mm, it.length_mm)),
            Mark::Blade(it) => {
                let [a, b] = it.ends;
                let back = |p: [f64; 2]| [p[0] - it.outward[0] * it.cover_mm, p[1] - it.outward[1] * it.cover_mm];
                (format!("blade {}", it.name), hull(&[a, b, back(a), back(b)]))
            }
            Mark::Rule(it) => ("rule".to_owned(), around(it.centre, it.width_mm, it.length_mm)),
            Mark::GreyScale(it) => ("grey scale".to_owned(), around(it.centre, it.size_mm[0], it.size_mm[1])),
        })
        .collect()
}

#[test]
fn nothing_overlaps_and_nothing_leaves_the_sheet() {
    for sheet in sheets() {
        let all = boxes(&sheet);
        let [w, h] = sheet.size_mm.map(|side| side / 2.0);
        for (index, (name, b)) in all.iter().enumerate() {
            assert!(b[0] >= -w && b[2] <= w && b[1] >= -h && b[3] <= h, "{name} leaves {:?}", sheet.size_mm);
            for (other, o) in &all[index + 1..] {
                let apart = b[2] < o[0] || o[2] < b[0] || b[3] < o[1] || o[3] < b[1];
                assert!(apart, "{name} {b:?} meets {other} {o:?} on {:?}", sheet.size_mm);
            }
        }
    }
}

#[test]
fn squares_and_codes_have_their_white() {
    for sheet in sheets() {
        let all = boxes(&sheet);
        for code in sheet.codes() {
            // ISO/IEC 18004 asks for a quiet zone of four modules.
            let quiet = code.side_mm / 21.0 * 4.0 - 1e-9;
            let half = code.side_mm / 2.0 + quiet;
            let b = [code.centre[0] - half, code.centre[1] - half, code.centre[0] + half, code.centre[1] + half];
            for (name, o) in all.iter().filter(|(name, _)| name != "code") {
                let apart = b[2] <= o[0] || o[2] <= b[0] || b[3] <= o[1] || o[3] <= b[1];
                assert!(apart, "{name} {o:?} lies in a quiet zone {b:?} of {:?}", sheet.size_mm);
            }
        }
        for square in sheet.squares() {
            for edge in square.edges() {
                let [x, y] = edge.middle();
                let beyond = [x + edge.outward[0] * square.free_mm, y + edge.outward[1] * square.free_mm];
                for (name, o) in all.iter().filter(|(name, _)| *name != square.name) {
                    let inside = beyond[0] > o[0] && beyond[0] < o[2] && beyond[1] > o[1] && beyond[1] < o[3];
                    assert!(!inside, "{name} lies beside {} of {:?}", square.name, sheet.size_mm);
                }
            }
        }
    }
}

#[test]
fn edges_run_along_and_across_the_radius_at_thirteen_places_or_more() {
    for sheet in sheets() {
        assert!(sheet.squares().count() >= 13);
        for square in sheet.squares() {
            let radius = square.on_field[1].atan2(square.on_field[0]);
            for edge in square.edges() {
                let [[ax, ay], [bx, by]] = edge.ends;
                let off = ((by - ay).atan2(bx - ax) - radius).to_degrees().rem_euclid(180.0);
                match edge.radial {
                    Radial::Along => assert_close!(off.min(180.0 - off), 5.0, absolute = 1e-6),
                    Radial::Across => assert_close!((off - 90.0).abs(), 5.0, absolute = 1e-6),
                    Radial::Neither => assert_eq!(square.zone, Zone::Centre),
                }
                // Far enough from level, upright and the diagonal to pass every place of a pixel.
                let slant = (by - ay).atan2(bx - ax).to_degrees().rem_euclid(45.0);
                assert!((4.99..40.01).contains(&slant), "{} is slanted by {slant}", square.name);
            }
        }
    }
}

#[test]
fn a_code_gives_the_same_sheet_again() {
    for sheet in sheets() {
        for code in sheet.codes() {
            let read = CodeText::read(&code.text.text()).expect("our own code");
            assert_eq!(read, code.text);
            assert_eq!(Sheet::of_code(&read).expect("lies in range"), sheet);
        }
    }
}

#[test]
fn wrong_codes_are_refused_and_every_wrong_letter_is_noticed() {
    let text = CodeText {
        field_tenths: [563, 421],
        part: Part::Whole,
        corner: Corner::BottomLeft,
        identity: Identity::from_number(123_456_789),
    }
    .text();
    assert_eq!(text.len(), 18);
    for place in 2..18 {
        for letter in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ".chars() {
            let mut other: Vec<char> = text.chars().collect();
            if other[place] == letter {
                continue;
            }
            other[place] = letter;
            let other: String = other.into_iter().collect();
            assert!(CodeText::read(&other).is_err(), "{other} was taken for {text}");
        }
    }
    for foreign in ["", "CW", "http://example.org", "CW1", "ÄÄÄÄÄÄÄÄÄ", "CW1cw1cw1cw1cw1cw1x"] {
        assert_eq!(CodeText::read(foreign), Err(CodeError::Foreign), "{foreign}");
    }
}

#[test]
fn dots_are_a_version_one_code() {
    // ISO/IEC 18004: version 1 has 21 modules a side, three finder patterns of 7 × 7 with a white ring within.
    let sheet = &Card::new([56.0, 56.0], Identity::from_number(1)).expect("lies in range").sheets[0];
    let code = sheet.codes().next().expect("has codes");
    let dots = dots(&code.text);
    assert_eq!(dots.side, 21);
    let dark = |x: usize, y: usize| dots.dark[y * dots.side + x];
    for (x, y) in [(0, 0), (14, 0), (0, 14)] {
        for (i, j) in (0..7).flat_map(|i| (0..7).map(move |j| (i, j))) {
            let ring = [i, 6 - i, j, 6 - j].into_iter().min() == Some(1);
            assert_eq!(dark(x + i, y + j), !ring, "finder at {x},{y}");
        }
    }
}

#[test]
fn fields_without_a_card_are_refused() {
    for wrong in [[14.9, 15.0], [400.1, 300.0], [f64::NAN, 50.0], [50.0, f64::INFINITY], [60.0, 19.0]] {
        assert!(Card::new(wrong, Identity::from_number(0)).is_err(), "{wrong:?}");
    }
}

#[test]
fn a_large_field_takes_five_sheets_in_its_middle_and_corners() {
    let card = Card::new([300.0, 240.0], Identity::from_number(0)).expect("lies in range");
    assert_eq!(card.sheets.len(), 5);
    for sheet in &card.sheets[1..] {
        let signs = sheet.part.signs();
        for axis in [0, 1] {
            let border = sheet.offset_mm[axis] + signs[axis] * sheet.size_mm[axis] / 2.0;
            assert_close!(border, signs[axis] * card.field_mm[axis] / 2.0, absolute = 1e-9);
        }
    }
}

#[test]
fn a_ramp_passes_through_the_sheet_at_its_mark() {
    let card = Card::new([100.0, 100.0], Identity::from_number(0)).expect("lies in range");
    let ramp = card.sheets[0].ramps().next().expect("large enough for ramps");
    assert_close!(ramp.strip_mm(), 21.0 * std::f64::consts::SQRT_2, absolute = 1e-9);
    assert_close!(ramp.height_mm(ramp.strip_mm() / 2.0), 10.5, absolute = 1e-9);
    assert!(ramp.bars().iter().all(|bar| bar.abs() > 0.9 * ramp.bar_mm));
}

#[test]
fn a_printed_edge_has_lost_half_its_contrast_where_the_closed_form_says() {
    // exp(-2 π² σ² ν²) = 1/2 with σ = 0.05 mm / 2.5631 (10 to 90 % of a normal distribution, from memory).
    let sigma = 0.05 / 2.563_103_131_089;
    let nu = target::printed_half_contrast_lp_mm();
    assert_close!((-2.0 * (std::f64::consts::PI * sigma * nu).powi(2)).exp(), 0.5, absolute = 1e-9);
}
