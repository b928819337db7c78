//! Writing scans: 16-bit RGB TIFF, uncompressed, in strips.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use crate::error::{Fault, ImagingError};
use crate::source::check_size;

/// The sRGB profile as files embed it.
pub fn srgb_profile() -> Vec<u8> {
    // Encoding a profile that the library itself made cannot fail; an empty one would be left out of the file.
    moxcms::ColorProfile::new_srgb().encode().unwrap_or_default()
}

/// Bytes of picture in one strip: about what a scanner program writes.
const STRIP_BYTES: u64 = 256 << 10;
/// Most bytes of picture: classic TIFF counts in 32 bits, and the tags need a little room.
const MAX_BYTES: u64 = u32::MAX as u64 - (16 << 20);
const TEMPORARY: &str = "part";

/// Writes a 16-bit RGB TIFF row by row. The file appears under its name only when [`TiffWriter::finish`] has been
/// called; a writer that is dropped before leaves nothing.
pub struct TiffWriter {
    path: PathBuf,
    temporary: PathBuf,
    file: Option<BufWriter<File>>,
    width: u32,
    height: u32,
    rows: u32,
    buffer: Vec<u8>,
}

impl TiffWriter {
    /// Begins a file of that size. `pitch_um` is the distance of pixel centres on the film in µm, written as the
    /// resolution; `icc` the profile to embed.
    pub fn create(
        path: &Path,
        width: u32,
        height: u32,
        pitch_um: Option<f64>,
        icc: Option<&[u8]>,
    ) -> Result<Self, ImagingError> {
        Self::begin(path, width, height, pitch_um, icc).map_err(|fault| fault.at(path))
    }

    fn begin(path: &Path, width: u32, height: u32, pitch_um: Option<f64>, icc: Option<&[u8]>) -> Result<Self, Fault> {
        check_size(u64::from(width), u64::from(height))?;
        if u64::from(width) * u64::from(height) * 6 > MAX_BYTES {
            return Err(Fault::TooManyPixels { width: width.into(), height: height.into() });
        }
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(format!(".{TEMPORARY}"));
        let temporary = path.with_file_name(name);
        let file = File::create(&temporary).map_err(Fault::Write)?;
        let mut writer = Self {
            path: path.into(),
            temporary,
            file: Some(BufWriter::with_capacity(1 << 20, file)),
            width,
            height,
            rows: 0,
            buffer: Vec::with_capacity(width as usize * 6),
        };
        let head = head(width, height, pitch_um, icc.filter(|p| !p.is_empty()));
        writer.out()?.write_all(&head).map_err(Fault::Write)?;
        Ok(writer)
    }

    fn out(&mut self) -> Result<&mut BufWriter<File>, Fault> {
        self.file.as_mut().ok_or(Fault::Cancelled)
    }

    /// Writes the next row: red, green, blue of each pixel.
    pub fn write_row(&mut self, row: &[u16]) -> Result<(), ImagingError> {
        self.put_row(row).map_err(|fault| fault.at(&self.path))
    }

    fn put_row(&mut self, row: &[u16]) -> Result<(), Fault> {
        let expected = u64::from(self.width) * 3;
        if row.len() as u64 != expected {
            return Err(Fault::WrongCount { what: "samples", given: row.len() as u64, expected });
        }
        if self.rows == self.height {
            let (given, expected) = (u64::from(self.rows) + 1, u64::from(self.height));
            return Err(Fault::WrongCount { what: "rows", given, expected });
        }
        let mut buffer = std::mem::take(&mut self.buffer);
        buffer.clear();
        buffer.extend(row.iter().flat_map(|v| v.to_le_bytes()));
        self.out()?.write_all(&buffer).map_err(Fault::Write)?;
        self.buffer = buffer;
        self.rows += 1;
        Ok(())
    }

    /// Completes the file and gives it its name.
    pub fn finish(mut self) -> Result<(), ImagingError> {
        self.complete().map_err(|fault| fault.at(&self.path))
    }

    fn complete(&mut self) -> Result<(), Fault> {
        if self.rows != self.height {
            let (given, expected) = (u64::from(self.rows), u64::from(self.height));
            return Err(Fault::WrongCount { what: "rows", given, expected });
        }
        self.out()?.flush().map_err(Fault::Write)?;
        self.file = None;
        std::fs::rename(&self.temporary, &self.path).map_err(Fault::Write)
    }
}

impl Drop for TiffWriter {
    fn drop(&mut self) {
        // After `finish` the temporary file has been renamed and there is nothing to remove.
        self.file = None;
        let _ = std::fs::remove_file(&self.temporary);
    }
}

/// Writes a 16-bit RGB TIFF whose rows come from `rows(row, samples)`, which fills in red, green, blue of each pixel and
/// may break off; then nothing is left and the error is [`Fault::Cancelled`].
pub fn write_tiff_rgb16(
    path: &Path,
    width: u32,
    height: u32,
    pitch_um: Option<f64>,
    icc: Option<&[u8]>,
    mut rows: impl FnMut(u32, &mut [u16]) -> ControlFlow<()>,
) -> Result<(), ImagingError> {
    let mut writer = TiffWriter::create(path, width, height, pitch_um, icc)?;
    let mut row = vec![0; width as usize * 3];
    for i in 0..height {
        if rows(i, &mut row).is_break() {
            return Err(Fault::Cancelled.at(path));
        }
        writer.write_row(&row)?;
    }
    writer.finish()
}

/// Everything before the first sample: header, directory and the values that do not fit into it.
fn head(width: u32, height: u32, pitch_um: Option<f64>, icc: Option<&[u8]>) -> Vec<u8> {
    // Places depend on the number of tags alone, so the values are laid out once for their size and once for real.
    let size = lay_out(width, height, pitch_um, icc, 0).len() as u32;
    lay_out(width, height, pitch_um, icc, size)
}

/// A tag's type and values.
enum Values {
    Short(Vec<u16>),
    Long(Vec<u32>),
    Rational(u32, u32),
    Bytes(Vec<u8>),
}

impl Values {
    fn kind_and_count(&self) -> (u16, u32) {
        match self {
            Self::Short(v) => (3, v.len() as u32),
            Self::Long(v) => (4, v.len() as u32),
            Self::Rational(..) => (5, 1),
            Self::Bytes(v) => (7, v.len() as u32),
        }
    }

    fn bytes(&self) -> Vec<u8> {
        match self {
            Self::Short(v) => v.iter().flat_map(|v| v.to_le_bytes()).collect(),
            Self::Long(v) => v.iter().flat_map(|v| v.to_le_bytes()).collect(),
            Self::Rational(n, d) => [n.to_le_bytes(), d.to_le_bytes()].concat(),
            Self::Bytes(v) => v.clone(),
        }
    }
}

fn lay_out(width: u32, height: u32, pitch_um: Option<f64>, icc: Option<&[u8]>, data_start: u32) -> Vec<u8> {
    let tags = tags(width, height, pitch_um, icc, data_start);
    let mut directory = (tags.len() as u16).to_le_bytes().to_vec();
    let mut values = Vec::new();
    let values_start = 8 + 2 + 12 * tags.len() as u32 + 4;
    for (tag, value) in &tags {
        let ((kind, count), bytes) = (value.kind_and_count(), value.bytes());
        directory.extend(tag.to_le_bytes());
        directory.extend(kind.to_le_bytes());
        directory.extend(count.to_le_bytes());
        if bytes.len() <= 4 {
            directory.extend(&bytes);
            directory.resize(directory.len() + 4 - bytes.len(), 0);
        } else {
            directory.extend((values_start + values.len() as u32).to_le_bytes());
            values.extend(bytes);
            // Values begin on even bytes.
            values.resize(values.len().next_multiple_of(2), 0);
        }
    }
    [&b"II\x2a\0\x08\0\0\0"[..], &directory, &[0; 4], &values].concat()
}

/// The tags in ascending order, numbers as in TIFF 6.0.
fn tags(width: u32, height: u32, pitch_um: Option<f64>, icc: Option<&[u8]>, data_start: u32) -> Vec<(u16, Values)> {
    let row_bytes = u64::from(width) * 6;
    let rows_per_strip = (STRIP_BYTES / row_bytes).clamp(1, u64::from(height)) as u32;
    let strips = height.div_ceil(rows_per_strip);
    let bytes_of = |strip: u32| (rows_per_strip.min(height - strip * rows_per_strip) as u64 * row_bytes) as u32;
    let start_of = |strip: u32| data_start + (u64::from(strip * rows_per_strip) * row_bytes) as u32;
    let mut tags = vec![
        (256, Values::Long(vec![width])),
        (257, Values::Long(vec![height])),
        (258, Values::Short(vec![16, 16, 16])),
        (259, Values::Short(vec![1])),
        (262, Values::Short(vec![2])),
        (273, Values::Long((0..strips).map(start_of).collect())),
        (277, Values::Short(vec![3])),
        (278, Values::Long(vec![rows_per_strip])),
        (279, Values::Long((0..strips).map(bytes_of).collect())),
    ];
    if let Some(per_cm) = pitch_um.map(|um| 1e4 / um).filter(|r| r.is_finite() && *r > 0.0) {
        // The numerator takes as many digits as fit into 32 bits.
        let denominator = (f64::from(u32::MAX) / per_cm).floor().clamp(1.0, 1e5);
        let resolution = || Values::Rational((per_cm * denominator).round() as u32, denominator as u32);
        tags.extend([(282, resolution()), (283, resolution()), (296, Values::Short(vec![3]))]);
    }
    tags.extend(icc.map(|profile| (34675, Values::Bytes(profile.to_vec()))));
    tags
}
