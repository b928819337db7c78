//! What every target does with its bytes.

use std::cell::RefCell;
use std::path::PathBuf;

use imaging::{Scan, ToneChoice};
use planes::{Channels, Region};

/// Largest side of what is read from a file that may declare anything.
const SIDE: u32 = 200;

/// One file for each process, removed with it; in memory where the system offers that.
struct Place(PathBuf);

impl Place {
    fn new() -> Self {
        let memory = PathBuf::from("/dev/shm");
        let folder = if memory.is_dir() { memory } else { std::env::temp_dir() };
        Self(folder.join(format!("closework-fuzz-{}", std::process::id())))
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.0);
    }
}

thread_local! {
    static PLACE: RefCell<Place> = RefCell::new(Place::new());
}

/// Opens bytes as a scan and reads two of its corners; light must lie between 0 and 1.
pub fn read_scan(bytes: &[u8]) {
    let path = PLACE.with(|place| place.borrow().0.clone());
    std::fs::write(&path, bytes).expect("the scratch file can be written");
    let Ok(mut scan) = Scan::open(&path) else { return };
    let whole = scan.whole();
    let size = (whole.width.min(SIDE), whole.height.min(SIDE));
    let first = Region { x: 0, y: 0, width: size.0, height: size.1 };
    // The last rows of a tall picture lie behind millions of others.
    let y = (whole.height - size.1).min(2000);
    let last = Region { x: whole.width - size.0, y, ..first };
    for region in [first, last] {
        if let Ok(reading) = scan.read_linear(region, ToneChoice::Icc) {
            let planes = match reading.picture.channels() {
                Channels::Grey(plane) => std::slice::from_ref(plane),
                Channels::Rgb { planes, .. } => planes.as_slice(),
            };
            assert!(planes.iter().all(|p| p.samples().iter().all(|v| (0.0..=1.0).contains(v))), "light outside 0 to 1");
        }
    }
    let _ = scan.read_encoded(first);
}

/// A little-endian TIFF of 4 x 2 pixels of 8 bits and `channels` channels with one tag of bytes more.
pub fn tiff_with(channels: u16, tag: u16, bytes: &[u8]) -> Vec<u8> {
    const ENTRIES: u32 = 9;
    let data_at = 8 + 2 + 12 * ENTRIES + 4;
    let samples: Vec<u8> = (0..8 * channels).map(|i| (i * 10) as u8).collect();
    let photometric = if channels == 1 { 1 } else { 2 };
    let short = |tag: u16, value: u16| (tag, 3_u16, 1_u32, u32::from(value));
    let mut entries = vec![
        short(256, 4),
        short(257, 2),
        short(258, 8),
        short(259, 1),
        short(262, photometric),
        (273, 4, 1, data_at),
        short(277, channels),
        (279, 4, 1, samples.len() as u32),
        (tag, 7, bytes.len() as u32, data_at + samples.len() as u32),
    ];
    entries.sort_by_key(|e| e.0);
    let mut file = b"II\x2a\0\x08\0\0\0".to_vec();
    file.extend((ENTRIES as u16).to_le_bytes());
    for (tag, kind, count, value) in entries {
        file.extend(tag.to_le_bytes());
        file.extend(kind.to_le_bytes());
        file.extend(count.to_le_bytes());
        file.extend(value.to_le_bytes());
    }
    file.extend([0; 4]);
    file.extend(samples);
    file.extend(bytes);
    // Four bytes and fewer stand in the tag itself, where they mean a place: padded, they are what they are.
    file.extend([0; 8]);
    file
}
