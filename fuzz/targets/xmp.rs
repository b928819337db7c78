//! XMP packets, in a TIFF.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| fuzz::read_scan(&fuzz::tiff_with(1, 700, bytes)));
