//! EXIF blocks, in a JPEG.
#![no_main]

use libfuzzer_sys::fuzz_target;

/// A grey picture of 8 x 8 pixels without its first marker.
const REST: &[u8] = include_bytes!("../seeds/grey-8x8.jpg");

fuzz_target!(|bytes: &[u8]| {
    let length = bytes.len().min(65_000);
    let mut file = vec![0xff, 0xd8, 0xff, 0xe1];
    file.extend(((length + 8) as u16).to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(&bytes[..length]);
    file.extend(&REST[2..]);
    fuzz::read_scan(&file);
});
