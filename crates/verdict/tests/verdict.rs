//! What a job needs: arithmetic of the trade.

use testkit::assert_close;
use verdict::Need;

/// A seed 12 mm long on a square of 56 mm, printed 254 mm wide.
fn seed() -> Need {
    Need { subject_mm: 12.0, fill: 0.75, frame_mm: [56.0, 56.0], print_mm: 254.0, criterion_lp_mm: 5.0, contrast: 0.1 }
}

#[test]
fn detail_needed_on_film() {
    // Own calculation, criterion times enlargement: 5 lp/mm on paper from 56 mm to 254 mm (×4.536) is 22.7 lp/mm on
    // film, to 406 mm 36.3 (the criterion itself: 0.2 mm at 250 mm; common practice, no source).
    for (print_mm, enlargement, on_film) in [(254.0, 4.536, 22.7), (406.0, 7.25, 36.3)] {
        let need = Need { print_mm, ..seed() };
        assert_close!(need.enlargement(), enlargement, absolute = 5.1e-4);
        assert_close!(need.on_film_lp_mm(), on_film, absolute = 0.051);
    }
}

#[test]
fn the_subject_fills_the_shorter_side_and_the_print_the_longer() {
    // Own calculation: 0.75 of 41.5 mm over 12 mm; 254 mm over 56 mm.
    for frame_mm in [[56.0, 41.5], [41.5, 56.0]] {
        let need = Need { frame_mm, ..seed() };
        assert_close!(need.magnification(), 2.593_75, relative = 1e-12);
        assert_close!(need.enlargement(), 254.0 / 56.0, relative = 1e-12);
        // What is 22.7 lp/mm on film is 2.59 times as fine on the subject.
        assert_close!(need.on_subject_lp_mm(), 5.0 * 254.0 / 56.0 * 2.593_75, relative = 1e-12);
    }
}
