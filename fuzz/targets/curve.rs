//! Characteristic curves as text.
#![no_main]

use imaging::negative::Curve;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(curve) = Curve::parse(&String::from_utf8_lossy(bytes)) else { return };
    let ((least, most), (low, high)) = (curve.density_range(), curve.log_h_range());
    let mut before = low;
    for i in 0..=200 {
        let log_h = curve.log_h(least + (most - least) * f64::from(i) / 200.0);
        assert!((low..=high).contains(&log_h) && log_h >= before, "{log_h} after {before} in {low} to {high}");
        before = log_h;
    }
});
