//! Cards against closed forms of the optics and of the calendar of round numbers.

use super::*;
use testkit::assert_close;

const KIT: &str = r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[lens]]
id = "lens"
mount = "m"
focal_length_mm = 80
max_aperture = 2.8
min_aperture = 22
pupil_ratio = 1
principal_separation_mm = 0
length_mm = 60
max_magnification = 0.1
thread_mm = 58
[[lens]]
id = "inner"
mount = "m"
focal_length_mm = 100
max_aperture = 4
length_mm = 90
focusing = "internal"
close_focus_mm = 800
max_magnification = 0.2
[[bellows]]
id = "bellows"
mount = "m"
draw_mm = [40, 160]
[[reversing_ring]]
id = "ring"
mount = "m"
thread_mm = 58
"#;

fn made(parts: &[&str], f_numbers: &[f64], most: usize) -> Result<PocketCard, PocketError> {
    let kit = Kit::parse(KIT).unwrap();
    let parts = parts.iter().map(ToString::to_string).collect();
    card(&kit, &SetupRequest { parts, ..SetupRequest::default() }, f_numbers, most)
}

#[test]
fn a_bellows_card_follows_the_closed_forms() {
    let card = made(&["body", "bellows", "lens"], &[8.0, 16.0], ROWS).unwrap();
    assert_eq!(card.scale, Scale::Draw);
    assert_eq!(card.name, "bellows · lens", "the draw is the card's scale");
    for row in &card.rows {
        let draw = row.setting_mm.unwrap();
        // m = e / f; u = f (1 + 1/m); N' = N (1 + m): textbook forms for a thin lens with equal pupils.
        let m = draw / 80.0;
        assert_close!(row.magnification.value, m, relative = 1e-9);
        assert_close!(row.field_mm.unwrap()[0], 56.0 / m, relative = 1e-9);
        // The front rim lies where a lens of 60 mm ends that has its planes 80 mm before the film: 60 - (80 - 80) before them.
        assert_close!(row.working_mm.unwrap().value, 80.0 * (1.0 + 1.0 / m) - 60.0, relative = 1e-6);
        assert_close!(row.stops.value, 2.0 * (1.0 + m).log2(), relative = 1e-9);
        // Close up the depth tends to 2 c N' / m² (at the largest size here it is within 1 %).
        let close = |n: f64| 2.0 * card.coc_mm * n * (1.0 + m) / (m * m);
        assert_close!(row.depths_mm[0].unwrap(), close(8.0), relative = 0.01);
        assert_close!(row.depths_mm[1].unwrap(), close(16.0), relative = 0.01);
    }
}

#[test]
fn travel_and_distance_are_the_scales_of_lenses_that_focus() {
    let card = made(&["body", "lens"], &[], ROWS).unwrap();
    assert_eq!((card.scale, card.f_numbers.as_slice()), (Scale::Travel, &[11.0, 16.0, 22.0][..]));
    let (first, last) = (&card.rows[0], card.rows.last().unwrap());
    assert_eq!((first.setting_mm, first.field_mm, first.working_mm), (Some(0.0), None, None));
    // The largest travel is f m.
    assert_close!(last.setting_mm.unwrap(), 8.0, relative = 1e-9);
    assert_close!(last.magnification.value, 0.1, relative = 1e-9);
    let card = made(&["body", "inner"], &[], ROWS).unwrap();
    assert_eq!(card.scale, Scale::Distance);
    assert_close!(card.rows.last().unwrap().magnification.value, 0.2, relative = 1e-6);
    assert!(card.rows.windows(2).all(|pair| pair[0].magnification.value < pair[1].magnification.value));
}

#[test]
fn a_reversed_lens_has_one_size_unless_a_bellows_draws_it_out() {
    let card = made(&["body", "ring", "lens"], &[], ROWS).unwrap();
    assert_eq!((card.scale, card.rows.len()), (Scale::Fixed, 1));
    let card = made(&["body", "bellows", "ring", "lens"], &[], ROWS).unwrap();
    assert_eq!(card.scale, Scale::Draw);
}

#[test]
fn what_makes_no_card_is_refused() {
    let refused = |parts: &[&str], stops: &[f64]| made(parts, stops, ROWS).unwrap_err().to_string();
    assert!(refused(&["body", "nothing"], &[]).contains("nothing"));
    assert!(refused(&["body"], &[]).contains("lens"));
    assert!(refused(&["body", "lens"], &[32.0]).contains("f/2.8 to f/22"));
    assert!(refused(&["body", "lens"], &[f64::NAN]).contains("f/2.8"));
}

#[test]
fn settings_are_round_few_and_reach_both_ends() {
    for (low, high) in [(40.0, 160.0), (0.0, 8.0), (0.0, 5.301), (35.0, 35.4), (0.0, 180.0), (12.5, 99.0)] {
        for most in [3, ROWS, FINE_ROWS] {
            let found = rounds(low, high, most);
            assert!(found.len() <= most && found.len() >= 2, "{low} to {high}: {found:?}");
            assert_eq!((found[0], *found.last().unwrap()), (low, high));
            assert!(found.windows(2).all(|pair| pair[0] < pair[1]), "{found:?}");
        }
    }
    assert_eq!(rounds(40.0, 160.0, 9), [40.0, 60.0, 80.0, 100.0, 120.0, 140.0, 160.0]);
}

#[test]
fn stops_are_told_in_thirds() {
    // Two stops at life size; 2 log2(1.25) = 0.644.
    for (stops, shown) in [(2.0, "+2"), (0.644, "+⅔"), (1.3, "+1⅓"), (0.1, "0"), (-0.34, "−⅓"), (2.9, "+3")] {
        assert_eq!(thirds(stops), shown);
    }
}

#[test]
fn the_printed_card_has_every_row_and_fits_its_page() {
    let card = made(&["body", "bellows", "lens"], &[], ROWS).unwrap();
    let times_s = [1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0].map(|t: f64| (t, t.powf(1.3), t < 40.0)).to_vec();
    let correction = Correction { film: "Panchromatic 100".into(), times_s };
    for (paper, pages, size) in
        [(Paper::A6, 5, [105.0, 148.0]), (Paper::A5, 3, [210.0, 148.0]), (Paper::A4, 2, [210.0, 297.0])]
    {
        let document = on_paper(&vec![card.clone(); 5], Some(&correction), paper, None);
        assert_eq!(document.pages.len(), pages, "{paper:?}");
        assert_eq!(document.pages[0].size_mm, size);
        document.to_pdf().unwrap();
        for place in
            document.pages.iter().flat_map(|page| &page.blocks).flat_map(|block| &block.shapes).filter_map(end_of)
        {
            assert!(place[0] <= size[0] - 5.0 && place[1] <= size[1] - 3.0, "{paper:?}: {place:?}");
        }
    }
}

/// Where a line of words ends: right end and base line.
fn end_of(shape: &printing::Shape) -> Option<[f64; 2]> {
    match shape {
        printing::Shape::Words(words) => Some([words.at[0] + words.style.width_mm(words.text.trim_end()), words.at[1]]),
        _ => None,
    }
}

#[test]
fn the_page_for_a_phone_asks_for_nothing_and_holds_every_figure() {
    let card = made(&["body", "bellows", "lens"], &[], FINE_ROWS).unwrap();
    let page = on_phone(&[PocketCard { name: "</script><b>".into(), ..card.clone() }], None, None);
    for outside in ["http:", "https:", "src=", "@import", "url("] {
        assert!(!page.contains(outside), "{outside}");
    }
    assert!(!page.contains("</script><b>"), "names are escaped");
    for row in &card.rows {
        assert!(page.contains(&paper::size(row)));
    }
}

#[test]
fn a_films_loss_goes_on_the_card_as_its_law_says() {
    let film = film::shipped().film("hp5-plus").expect("is shipped");
    let correction = Correction::on_paper(film).expect("has a law");
    // HARMAN technology, "Film Reciprocity Failure Compensation": Tm^1.31 for this film (from a copy of the sheet).
    for (metered, expose, sure) in &correction.times_s {
        assert_close!(*expose, metered.powf(1.31), relative = 1e-9);
        assert!(sure);
    }
    assert!(correction.film.contains("copy of the maker"), "{}", correction.film);
    let card = made(&["body", "bellows", "lens"], &[], ROWS).unwrap();
    let page = on_phone(&[card], Correction::on_phone(film).as_ref(), None);
    // 10 s make 20.4 s, the sheet's own example.
    assert!(page.contains("[10.0,20.4"), "the page's own script reads the pair");
}
