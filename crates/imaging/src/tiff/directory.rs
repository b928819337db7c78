//! The image file directory: tags and their values.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::sync::{Arc, Mutex, PoisonError};

use crate::error::{Fault, Feature};

/// A file that several readers share, each with its own place in it.
pub(super) type SharedFile = Arc<Mutex<File>>;

/// Tag numbers of TIFF 6.0 and its supplements.
pub(super) mod tag {
    pub const NEW_SUBFILE_TYPE: u16 = 254;
    pub const SUBFILE_TYPE: u16 = 255;
    pub const IMAGE_WIDTH: u16 = 256;
    pub const IMAGE_LENGTH: u16 = 257;
    pub const BITS_PER_SAMPLE: u16 = 258;
    pub const COMPRESSION: u16 = 259;
    pub const PHOTOMETRIC: u16 = 262;
    pub const FILL_ORDER: u16 = 266;
    pub const MAKE: u16 = 271;
    pub const MODEL: u16 = 272;
    pub const STRIP_OFFSETS: u16 = 273;
    pub const ORIENTATION: u16 = 274;
    pub const SAMPLES_PER_PIXEL: u16 = 277;
    pub const ROWS_PER_STRIP: u16 = 278;
    pub const STRIP_BYTE_COUNTS: u16 = 279;
    pub const X_RESOLUTION: u16 = 282;
    pub const Y_RESOLUTION: u16 = 283;
    pub const PLANAR_CONFIGURATION: u16 = 284;
    pub const RESOLUTION_UNIT: u16 = 296;
    pub const SOFTWARE: u16 = 305;
    pub const DATE_TIME: u16 = 306;
    pub const PREDICTOR: u16 = 317;
    pub const COLOR_MAP: u16 = 320;
    pub const TILE_WIDTH: u16 = 322;
    pub const TILE_LENGTH: u16 = 323;
    pub const TILE_OFFSETS: u16 = 324;
    pub const TILE_BYTE_COUNTS: u16 = 325;
    pub const SUB_DIRECTORIES: u16 = 330;
    pub const EXTRA_SAMPLES: u16 = 338;
    pub const SAMPLE_FORMAT: u16 = 339;
    pub const JPEG_TABLES: u16 = 347;
    pub const XMP: u16 = 700;
    pub const EXIF_DIRECTORY: u16 = 34665;
    pub const ICC_PROFILE: u16 = 34675;
    pub const DATE_TIME_ORIGINAL: u16 = 36867;
    pub const COLOR_SPACE: u16 = 40961;
    pub const LINEARIZATION_TABLE: u16 = 50712;
    pub const BLACK_LEVEL: u16 = 50714;
    pub const WHITE_LEVEL: u16 = 50717;
    pub const COLOR_MATRIX_1: u16 = 50721;
    pub const COLOR_MATRIX_2: u16 = 50722;
    pub const AS_SHOT_NEUTRAL: u16 = 50728;
}

/// Most bytes that one tag may hold: the offsets of two million tiles, more than four milliards of pixels need.
const MAX_TAG_BYTES: u64 = 16 << 20;
/// How many directories are looked through for the first that is not a thumbnail.
const MAX_DIRECTORIES: usize = 32;

#[derive(Debug, Clone, Copy)]
struct Entry {
    kind: u16,
    count: u64,
    /// The value itself when it fits, else its place in the file.
    field: [u8; 8],
}

/// One directory of a file.
pub(super) struct Directory {
    entries: BTreeMap<u16, Entry>,
    file: SharedFile,
    pub(super) big_endian: bool,
    big: bool,
    pub(super) file_bytes: u64,
    next: u64,
}

/// What a file holds.
pub(super) struct Found {
    pub picture: Directory,
    /// The file's first directory, when the picture's is another.
    pub root: Option<Directory>,
    /// There are more pictures.
    pub more: bool,
}

/// Reads exactly `buffer.len()` bytes at a place in the file.
pub(super) fn read_at(file: &SharedFile, place: u64, buffer: &mut [u8]) -> Result<(), Fault> {
    let mut file = file.lock().unwrap_or_else(PoisonError::into_inner);
    file.seek(SeekFrom::Start(place)).map_err(Fault::Read)?;
    file.read_exact(buffer).map_err(Fault::from)
}

impl Directory {
    /// The directory of the first picture that is not a thumbnail (or of the first, when all are).
    pub(super) fn of_picture(file: &SharedFile) -> Result<Found, Fault> {
        let first = Self::first(file)?;
        let more = first.next != 0;
        if !first.is_thumbnail()? {
            return Ok(Found { picture: first, root: None, more });
        }
        // The list of directories may run in a circle: the number of steps ends it.
        let mut place = first.next;
        for _ in 0..MAX_DIRECTORIES {
            if place == 0 {
                break;
            }
            let directory = Self::at(file, place, first.big_endian, first.big)?;
            if !directory.is_thumbnail()? {
                return Ok(Found { picture: directory, root: Some(first), more: true });
            }
            place = directory.next;
        }
        // Nothing but thumbnails on the surface and pictures below it: so cameras lay out what their sensor saw.
        let below = first.numbers(tag::SUB_DIRECTORIES)?.unwrap_or_default();
        for &place in below.iter().take(MAX_DIRECTORIES) {
            let directory = Self::at(file, place, first.big_endian, first.big)?;
            if !directory.is_thumbnail()? {
                return Ok(Found { picture: directory, root: Some(first), more: false });
            }
        }
        if !below.is_empty() {
            return Err(Feature::RawSensor.into());
        }
        Ok(Found { picture: first, root: None, more })
    }

    /// The directory of EXIF fields that this one points to; `None` when there is none or it cannot be read.
    pub(super) fn exif(&self) -> Option<Self> {
        let place = self.number(tag::EXIF_DIRECTORY).ok().flatten()?;
        Self::at(&self.file, place, self.big_endian, self.big).ok()
    }

    fn first(file: &SharedFile) -> Result<Self, Fault> {
        let mut start = [0_u8; 16];
        read_at(file, 0, &mut start[..8])?;
        let big_endian = start[0] == b'M';
        let big = number(&start[2..4], big_endian) == 43;
        if !big {
            return Self::at(file, number(&start[4..8], big_endian), big_endian, big);
        }
        read_at(file, 0, &mut start)?;
        if number(&start[4..6], big_endian) != 8 {
            return Err(Fault::Damaged("it claims to be a BigTIFF with offsets that are not 8 bytes long".into()));
        }
        Self::at(file, number(&start[8..16], big_endian), big_endian, big)
    }

    fn at(file: &SharedFile, place: u64, big_endian: bool, big: bool) -> Result<Self, Fault> {
        let file_bytes = file.lock().unwrap_or_else(PoisonError::into_inner).metadata().map_err(Fault::Read)?.len();
        let (count_bytes, entry_bytes, offset_bytes) = if big { (8, 20, 8) } else { (2, 12, 4) };
        let beyond = || Fault::Truncated("its directory of tags lies beyond its end".into());
        if place < 8 || place.saturating_add(count_bytes) > file_bytes {
            return Err(beyond());
        }
        let mut buffer = [0_u8; 8];
        read_at(file, place, &mut buffer[..count_bytes as usize])?;
        let count = number(&buffer[..count_bytes as usize], big_endian);
        let bytes = count.checked_mul(entry_bytes).filter(|b| *b <= MAX_TAG_BYTES).ok_or_else(beyond)?;
        if place + count_bytes + bytes > file_bytes {
            return Err(beyond());
        }
        let mut table = vec![0_u8; bytes as usize];
        read_at(file, place + count_bytes, &mut table)?;
        let entries = table.chunks_exact(entry_bytes as usize).map(|e| entry(e, big_endian, big)).collect();
        // Some writers leave the link to the next directory out at the end of the file: then there is none.
        let mut link = [0_u8; 8];
        let next = match read_at(file, place + count_bytes + bytes, &mut link[..offset_bytes]) {
            Ok(()) => number(&link[..offset_bytes], big_endian),
            Err(_) => 0,
        };
        Ok(Self { entries, file: file.clone(), big_endian, big, file_bytes, next })
    }

    fn is_thumbnail(&self) -> Result<bool, Fault> {
        // Bit 0 is a picture of reduced size, bit 2 a mask; the older tag has 2 for the former.
        let kind = self.number(tag::NEW_SUBFILE_TYPE)?.unwrap_or(0);
        Ok(kind & 5 != 0 || self.number(tag::SUBFILE_TYPE)? == Some(2))
    }

    /// True when the tag is there.
    pub(super) fn has(&self, tag: u16) -> bool {
        self.entries.contains_key(&tag)
    }

    /// The raw bytes of a tag's values and the size of one, `None` when absent.
    fn raw(&self, tag: u16) -> Result<Option<(Vec<u8>, u16, usize)>, Fault> {
        let Some(entry) = self.entries.get(&tag) else { return Ok(None) };
        let size = match entry.kind {
            1 | 2 | 6 | 7 => 1,
            3 | 8 => 2,
            4 | 9 | 11 | 13 => 4,
            5 | 10 | 12 | 16 | 17 | 18 => 8,
            other => return Err(Fault::Damaged(format!("tag {tag} is of the unknown type {other}"))),
        };
        let bytes = entry.count.saturating_mul(size);
        if bytes > self.file_bytes.min(MAX_TAG_BYTES) {
            return Err(Fault::Truncated(format!("tag {tag} claims {bytes} bytes")));
        }
        let inline = if self.big { 8 } else { 4 };
        let mut values = entry.field[..inline].to_vec();
        if bytes > inline as u64 {
            let place = number(&values, self.big_endian);
            values = vec![0; bytes as usize];
            read_at(&self.file, place, &mut values)
                .map_err(|_| Fault::Truncated(format!("tag {tag} points beyond its end")))?;
        }
        values.truncate(bytes as usize);
        Ok(Some((values, entry.kind, size as usize)))
    }

    /// All whole numbers of a tag; `None` when absent.
    pub(super) fn numbers(&self, tag: u16) -> Result<Option<Vec<u64>>, Fault> {
        let Some((bytes, kind, size)) = self.raw(tag)? else { return Ok(None) };
        if !matches!(kind, 1 | 3 | 4 | 13 | 16 | 18) {
            return Err(Fault::Damaged(format!("tag {tag} should hold whole numbers")));
        }
        Ok(Some(bytes.chunks_exact(size).map(|v| number(v, self.big_endian)).collect()))
    }

    /// The first whole number of a tag; `None` when absent or empty.
    pub(super) fn number(&self, tag: u16) -> Result<Option<u64>, Fault> {
        Ok(self.numbers(tag)?.and_then(|n| n.first().copied()))
    }

    /// All numbers of a tag, whole, fractions or floating point; `None` when absent.
    pub(super) fn reals(&self, tag: u16) -> Result<Option<Vec<f64>>, Fault> {
        let Some((bytes, kind, size)) = self.raw(tag)? else { return Ok(None) };
        let big = self.big_endian;
        let signed = |v: &[u8]| f64::from(number(v, big) as u32 as i32);
        let real = |v: &[u8]| match kind {
            5 => number(&v[..4], big) as f64 / number(&v[4..], big) as f64,
            10 => signed(&v[..4]) / signed(&v[4..]),
            11 => f64::from(f32::from_bits(number(v, big) as u32)),
            12 => f64::from_bits(number(v, big)),
            9 => signed(v),
            _ => number(v, big) as f64,
        };
        Ok(Some(bytes.chunks_exact(size).map(real).collect()))
    }

    /// The bytes of a tag; `None` when absent.
    pub(super) fn bytes(&self, tag: u16) -> Result<Option<Vec<u8>>, Fault> {
        Ok(self.raw(tag)?.map(|(bytes, ..)| bytes))
    }
}

fn entry(bytes: &[u8], big_endian: bool, big: bool) -> (u16, Entry) {
    let (count, field) = if big { (&bytes[4..12], &bytes[12..20]) } else { (&bytes[4..8], &bytes[8..12]) };
    let mut padded = [0; 8];
    padded[..field.len()].copy_from_slice(field);
    let kind = number(&bytes[2..4], big_endian) as u16;
    (number(&bytes[..2], big_endian) as u16, Entry { kind, count: number(count, big_endian), field: padded })
}

/// An unsigned number of up to eight bytes.
pub(super) fn number(bytes: &[u8], big_endian: bool) -> u64 {
    let join = |sum: u64, &byte: &u8| (sum << 8) | u64::from(byte);
    if big_endian { bytes.iter().fold(0, join) } else { bytes.iter().rev().fold(0, join) }
}
