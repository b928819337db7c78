//! PNG files.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| fuzz::read_scan(bytes));
