//! ICC profiles, in a TIFF of grey and one of colour.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    fuzz::read_scan(&fuzz::tiff_with(1, 34675, bytes));
    fuzz::read_scan(&fuzz::tiff_with(3, 34675, bytes));
});
