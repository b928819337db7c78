//! What a drawer of attachments does to lenses of 85 and 160 mm, at f/8, f/11 and f/16: `cargo run -p rays --example drawer`.
//!
//! Forms, not lenses that can be bought: what changes from line to line is what an attachment does; how good a certain lens
//! is, no line says.

use rays::{
    CloseUp, CloseUpKind, Criterion, Draw, Part, Prescription, Question, SetUp, Spectrum, Wavelength, Zone, form,
    predict,
};

/// Clear diameter of the close-up lenses, mm, and their distance to the front glass.
const CLOSE_UP_MM: f64 = 58.0;
const CLOSE_UP_GAP_MM: f64 = 6.0;

/// The corner of a 56 × 56 mm frame, less a little.
const CORNER_MM: f64 = 38.0;

const PLACES: [f64; 3] = [0.0, 0.5 * CORNER_MM, CORNER_MM];
const FREQUENCIES: [f64; 2] = [20.0, 40.0];

const DRAWER: [(&str, f64); 6] = [
    ("double-gauss-1954", 85.0),
    ("triplet-derived-1903", 85.0),
    ("telephoto", 160.0),
    ("triplet-derived-1903", 160.0),
    ("double-gauss-1954", 160.0),
    ("symmetrical", 160.0),
];

fn main() {
    println!("A form, not your lens: it predicts how attachments change it, not its absolute quality.");
    println!(
        "Contrast as sagittal/tangential at 20 and 40 cycles/mm on film; F, d and C lines in equal parts; focused for the"
    );
    println!("most contrast at 20 cycles/mm in the centre; places 0, {} and {} mm from it.", PLACES[1], PLACES[2]);
    println!(
        "Red and blue: how much farther out than green-yellow (d) the middle of C and F light lies, micrometres on film."
    );
    println!(
        "'rays' marks contrast without diffraction, where the aberration is too large for waves; 'dark' that nothing arrives."
    );
    for (key, focal_length) in DRAWER {
        let form = form(key).expect("in the library");
        let lens = form.scaled_to(focal_length).expect("a size");
        let colour =
            if form.dispersion_known() { "" } else { "; its dispersion is not printed: it is taken as free of colour" };
        println!("\n{focal_length} mm, {} ({}){colour}", form.name, form.source);
        for (what, set_up) in set_ups(&lens, focal_length) {
            println!("  {what}");
            for f_number in [8.0, 11.0, 16.0] {
                row(&SetUp { f_number, ..set_up.clone() }, &[0.0]);
            }
            row(&SetUp { f_number: 16.0, ..set_up }, &PLACES);
        }
    }
}

fn close_up(kind: CloseUpKind) -> Vec<Part> {
    let lens = CloseUp { power_dpt: 4.0, diameter_mm: CLOSE_UP_MM, kind }.prescription().expect("a close-up lens");
    vec![Part { lens, gap_after_mm: CLOSE_UP_GAP_MM }]
}

fn set_ups(lens: &Prescription, focal_length: f64) -> Vec<(String, SetUp)> {
    let alone = SetUp::alone(lens.clone(), 8.0);
    let at = |ratio: f64| SetUp { draw: Draw::Magnification { ratio }, ..alone.clone() };
    let with = |kind| SetUp { in_front: close_up(kind), ..alone.clone() };
    let half = 0.5 * focal_length;
    vec![
        ("bare, at infinity".into(), alone.clone()),
        (format!("on {half} mm of tubes, 1:2"), at(0.5)),
        (format!("on {focal_length} mm of tubes, 1:1"), at(1.0)),
        (format!("on {} mm of tubes, 2:1", 2.0 * focal_length), at(2.0)),
        ("reversed, 1:1".into(), SetUp { reversed: true, ..at(1.0) }),
        ("reversed, 2:1".into(), SetUp { reversed: true, ..at(2.0) }),
        ("+4 single meniscus, lens at infinity".into(), with(CloseUpKind::Meniscus)),
        ("+4 single plano-convex, lens at infinity".into(), with(CloseUpKind::PlanoConvex)),
        ("+4 cemented, lens at infinity".into(), with(CloseUpKind::Achromat)),
    ]
}

/// One line, focused for those places.
fn row(set_up: &SetUp, focused_for: &[f64]) {
    let question = Question {
        film_mm: PLACES.to_vec(),
        cycles_per_mm: FREQUENCIES.to_vec(),
        spectrum: Spectrum::visible(),
        focus: Criterion::MostContrast { film_mm: focused_for.to_vec(), cycles_per_mm: FREQUENCIES[0] },
    };
    let told = set_up.system(Wavelength::D).map_err(|refusal| refusal.to_string());
    let predicted = told.and_then(|system| predict(&system, &question).map_err(|refusal| refusal.to_string()));
    let predicted = match predicted {
        Ok(predicted) => predicted,
        Err(refusal) => return println!("    f/{:<3} {refusal}", set_up.f_number),
    };
    let size = predicted.magnification.map_or("  inf".into(), |ratio| format!("{ratio:5.2}"));
    let subject = predicted.subject_mm.map_or("     ".into(), |mm| format!("{mm:5.0}"));
    let all = if focused_for.len() > 1 { '*' } else { ' ' };
    print!("    f/{:<2}{all} m {size} subject {subject} mm Ne {:5.1} |", set_up.f_number, predicted.f_number);
    for zone in &predicted.zones {
        match zone {
            Ok(zone) => print!(" {}", cell(zone)),
            Err(_) => print!(" {:^45}|", "dark"),
        }
    }
    println!();
}

fn cell(zone: &Zone) -> String {
    let pair =
        |i: usize| format!("{:.2}/{:.2}", zone.transfer[i].sagittal.abs(), zone.transfer[i].tangential.contrast());
    let um = |i: usize| 1e3 * zone.colours_mm[i].1;
    let mark = if zone.by_rays { " rays" } else { "     " };
    format!("{} {}{mark} R{:+6.1} B{:+6.1} light {:.2} |", pair(0), pair(1), um(2), um(0), zone.illumination)
}
