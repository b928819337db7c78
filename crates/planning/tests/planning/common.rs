//! A beetle and what might photograph it.

use planning::{Brief, Candidate};

/// 40 mm long, filling 70 % of a 6x6 frame, printed 30 cm wide.
pub fn beetle() -> Brief {
    Brief::new(40.0, 0.7, [56.0, 56.0], 300.0)
}

/// A set-up that meets every wish of [`beetle`].
pub fn tubes() -> Candidate {
    Candidate {
        key: 7,
        magnification: 0.98,
        stops_lost: 2.0,
        working_distance_mm: Some(110.0),
        glass_added: 0,
        f_number_factor: 2.0,
        f_numbers: [4.0, 32.0],
        past_close_range: 5.0,
        contrast: None,
    }
}
