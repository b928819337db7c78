//! Set-ups against a job.

use crate::common::{beetle, tubes};
use optics::Estimate;
use planning::{Brief, Candidate, Choice, Feasible, Unmet};
use testkit::assert_close;

fn choice(brief: &Brief, candidate: &Candidate) -> Choice {
    brief.need().unwrap().choice(candidate).unwrap()
}

/// The one wish that is not met.
fn only(brief: &Brief, candidate: &Candidate) -> Unmet {
    let unmet = choice(brief, candidate).unmet;
    assert_eq!(unmet.len(), 1, "{unmet:?}");
    unmet[0]
}

#[test]
fn a_setup_that_serves() {
    let brief = Brief {
        subject_depth_mm: Some(1.0),
        least_working_distance_mm: Some(110.0),
        largest_light_loss_stops: Some(2.0),
        largest_enlargement: Some(5.36),
        ..beetle()
    };
    let served = choice(&brief, &tubes());
    assert!(served.serves(), "{:?}", served.unmet);
    assert_eq!(served.candidate.key, 7);
    // Effective f/8 to f/64, so diffraction (46.64) and not the lens ends the depth: 2·c·N/m² by hand.
    assert_close!(served.depth_mm, 3.625_736_950_936_516, relative = 1e-9);
    assert!(matches!(served.feasible, Feasible::OneExposure { .. }));
    assert_eq!(served.negative.cut_away, 0.0);
    // Rounding alone breaks no wish.
    let rounded = Candidate { stops_lost: 2.000_000_000_4, working_distance_mm: Some(109.999_999_999), ..tubes() };
    assert!(choice(&brief, &rounded).serves());
}

#[test]
fn engraved_f_numbers() {
    // Own calculation: at half life size with a pupil ratio of 1, effective over engraved is 1.5: 21.58 is f/14.39.
    let half = Candidate { f_number_factor: 1.5, f_numbers: [4.0, 22.0], ..tubes() };
    assert_close!(half.engraved(21.580_611_710_245_275), 14.387_074_473_496_85, relative = 1e-12);
    assert_eq!(half.effective_f_numbers(), [6.0, 33.0]);
}

#[test]
fn the_lens_may_end_the_depth() {
    // Effective f/16 and not the diffraction limit: 2·(56/1500)·16/0.98².
    let opened = Candidate { f_numbers: [4.0, 8.0], ..tubes() };
    assert_close!(choice(&beetle(), &opened).depth_mm, 1.243_926_141_885_325, relative = 1e-9);
}

#[test]
fn too_near_and_too_much_light_lost() {
    let brief = Brief { least_working_distance_mm: Some(120.0), largest_light_loss_stops: Some(1.5), ..beetle() };
    let unmet = choice(&brief, &tubes()).unmet;
    assert_eq!(
        unmet,
        [
            Unmet::TooNear { working_distance_mm: 110.0, least_mm: 120.0 },
            Unmet::TooMuchLightLost { stops: 2.0, largest: 1.5 }
        ]
    );
    assert_eq!(
        unmet[1].to_string(),
        "it loses 2 stops, and at most 1.5 are wanted: use less extension, or a close-up lens in its place"
    );
    let far = Candidate { working_distance_mm: None, stops_lost: 0.0, ..tubes() };
    assert!(choice(&brief, &far).serves());
}

#[test]
fn a_crop_competes_up_to_what_is_allowed() {
    let short = Candidate { magnification: 0.735, ..tubes() };
    assert_eq!(
        only(&beetle(), &short).to_string(),
        "it reaches magnification 0.735, and 0.98 is needed: add extension or a close-up lens, or allow a crop to 75 % of the \
         frame's sides"
    );
    assert!(choice(&Brief { largest_crop: 0.25, ..beetle() }, &short).serves());
    let tight = Brief { largest_crop: 0.2, ..beetle() };
    assert_eq!(
        only(&tight, &short).to_string(),
        "at magnification 0.735 instead of 0.98, 25 % of the frame's sides would be cropped away, and at most 20 % are \
         allowed: add extension or a close-up lens"
    );
    // The crop at three quarters: everything on film by 4/3, light 2·log₂(4/3) (closed forms).
    let cropped = choice(&Brief { largest_crop: 0.3, ..beetle() }, &short).negative;
    assert_close!(cropped.cut_away, 0.25, relative = 1e-12);
    assert_close!(cropped.enlargement, 300.0 / 56.0 * 4.0 / 3.0, relative = 1e-12);
    assert_close!(cropped.lp_mm, 35.714_285_714_285_715, relative = 1e-12);
    assert_close!(cropped.circle_mm, 0.028, relative = 1e-12);
    assert_close!(cropped.light_gained_stops, 0.830_074_998_557_688, relative = 1e-12);
    // One percent is within what a finder shows.
    assert!(choice(&beetle(), &Candidate { magnification: 0.972, ..tubes() }).serves());
}

#[test]
fn grain_ends_a_crop_before_the_frame_does() {
    let brief = Brief { largest_crop: 0.5, largest_enlargement: Some(7.0), ..beetle() };
    assert!(choice(&brief, &tubes()).serves());
    assert_eq!(
        only(&brief, &Candidate { magnification: 0.735, ..tubes() }).to_string(),
        "the film would be enlarged 7.14 times, and its grain is wanted at 7 at most: fill more of the frame, or print smaller"
    );
    assert_eq!(
        only(&Brief { largest_enlargement: Some(5.0), ..beetle() }, &tubes()).to_string(),
        "the film would be enlarged 5.36 times, and its grain is wanted at 5 at most: use larger film, or print smaller"
    );
}

#[test]
fn too_large_on_film() {
    let unmet = only(&Brief { largest_crop: 0.5, ..beetle() }, &Candidate { magnification: 1.26, ..tubes() });
    assert_eq!(
        unmet.to_string(),
        "at magnification 1.26 the subject fills 90 % of the frame's side instead of 70 %: use less extension"
    );
}

#[test]
fn diffraction_even_wide_open() {
    let slow = Candidate { f_numbers: [32.0, 64.0], ..tubes() };
    assert_eq!(
        only(&beetle(), &slow).to_string(),
        "even wide open, at effective f/64, diffraction takes the 26.8 lp/mm that the film must hold; they need f/46.6 or \
         wider: take a lens that opens wider, fill more of the frame, or print smaller"
    );
    // What depth it has is that of its widest: 2·(56/1500)·64/0.98².
    assert_close!(choice(&beetle(), &slow).depth_mm, 4.975_704_567_541_303, relative = 1e-9);
    // The same lens serves a print that small.
    assert!(choice(&Brief { print_mm: 200.0, ..beetle() }, &slow).serves());
}

#[test]
fn only_a_certain_shortfall_of_sharpness_counts() {
    let measured = |value, plus_minus| Candidate { contrast: Some(Estimate { value, plus_minus }), ..tubes() };
    assert_eq!(
        only(&beetle(), &measured(0.1, 0.05)).to_string(),
        "measured contrast at the detail wanted is 0.1 ± 0.05, and 0.2 is wanted: stop down or choose another set-up"
    );
    assert!(choice(&beetle(), &measured(0.18, 0.05)).serves());
    assert!(choice(&beetle(), &measured(0.4, 0.05)).serves());
}

#[test]
fn figures_that_cannot_be() {
    let need = beetle().need().unwrap();
    let refused = |candidate: Candidate| need.choice(&candidate).unwrap_err().to_string();
    let cases = [
        (
            Candidate { magnification: 0.0, ..tubes() },
            "the set-up's magnification must lie between 0.0001 and 200, not 0; check it",
        ),
        (
            Candidate { stops_lost: f64::NAN, ..tubes() },
            "the light lost in the set-up must lie between -10 and 60 stops, not NaN; check it",
        ),
        (
            Candidate { working_distance_mm: Some(-3.0), ..tubes() },
            "the working distance must lie between 0 and 1e9 mm, not -3; check it",
        ),
        (
            Candidate { f_number_factor: 0.0, ..tubes() },
            "effective over engraved f-number must lie between 0.01 and 10000, not 0; check it",
        ),
        (
            Candidate { f_numbers: [0.0, 8.0], ..tubes() },
            "the lens's smallest f-number must lie between 0.3 and 1000, not 0; check it",
        ),
        (
            Candidate { f_numbers: [8.0, 4.0], ..tubes() },
            "the lens's largest f-number must lie between 8 and 1000, not 4; check it",
        ),
        (
            Candidate { past_close_range: f64::INFINITY, ..tubes() },
            "magnification over the lens's own largest must lie between 0 and 1000000, not inf; check it",
        ),
        (
            Candidate { contrast: Some(Estimate { value: f64::NAN, plus_minus: 0.1 }), ..tubes() },
            "the measured contrast must lie between -1 and 3, not NaN; check it",
        ),
        (
            Candidate { contrast: Some(Estimate { value: 0.3, plus_minus: -0.1 }), ..tubes() },
            "the measured contrast's ± must lie between 0 and 3, not -0.1; check it",
        ),
    ];
    for (candidate, sentence) in cases {
        assert_eq!(refused(candidate), sentence);
    }
}
