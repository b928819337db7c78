//! PNG files, row by row unless interlaced.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use planes::Region;
use png::{ColorType, Decoder, DecodingError, Reader, Transformations, Unit};

use crate::error::Fault;
use crate::exif_block;
use crate::source::{Declared, Header, MAX_WHOLE_BYTES, RowSink, Source, check_size, orientation_of};
use crate::{Colour, Remark};

/// Most bytes that one byte of Deflate can become (RFC 1951: 258 bytes for two bits).
const MAX_RATIO: u64 = 1032;
/// gAMA within this of 1/2.2 is what writers of sRGB put there.
const GAMMA_SRGB_SLACK: f64 = 0.01;

struct PngPicture {
    path: PathBuf,
    colour: Colour,
    /// The whole picture when it is interlaced, after its first use.
    decoded: Option<Vec<u8>>,
}

/// Reads the header and checks that the file is whole.
pub(crate) fn open(path: &Path) -> Result<(Header, Box<dyn Source>), Fault> {
    let mut file = File::open(path).map_err(Fault::Read)?;
    let survey = survey(&mut file)?;
    let reader = reader(path)?;
    let info = reader.info();
    let size = check_size(u64::from(info.width), u64::from(info.height))?;
    check_length(&reader, size, survey)?;
    let mut remarks = Vec::new();
    let (colour, alpha) = colour(&reader);
    if alpha {
        remarks.push(Remark::AlphaDropped);
    }
    if info.color_type == ColorType::Indexed {
        remarks.push(Remark::PaletteResolved);
    }
    let exif = info.exif_metadata.as_deref().map(exif_block::read);
    let orientation = orientation_of(exif.and_then(|e| e.orientation), &mut remarks);
    let header = Header {
        size,
        colour,
        bits: info.bit_depth as u8,
        full_scale: if sixteen(&reader) { 65535 } else { 255 },
        orientation,
        per_mm: per_mm(info).or(exif.and_then(|e| e.per_mm)),
        icc: info.icc_profile.as_deref().map(<[u8]>::to_vec),
        declared: declared(info),
        remarks,
    };
    Ok((header, Box::new(PngPicture { path: path.into(), colour, decoded: None })))
}

fn reader(path: &Path) -> Result<Reader<BufReader<File>>, Fault> {
    let file = BufReader::new(File::open(path).map_err(Fault::Read)?);
    let mut decoder = Decoder::new(file);
    decoder.set_transformations(Transformations::EXPAND);
    decoder.set_ignore_text_chunk(true);
    decoder.read_info().map_err(fault)
}

fn fault(error: DecodingError) -> Fault {
    match error {
        DecodingError::IoError(error) => error.into(),
        DecodingError::LimitsExceeded => Fault::Damaged("its header asks for an absurd amount of memory".into()),
        other => Fault::Damaged(format!("the PNG decoder says: {}", other.to_string().trim_end_matches('.'))),
    }
}

/// What the list of chunks says without decoding anything.
#[derive(Debug, Clone, Copy)]
struct Survey {
    picture_bytes: u64,
}

/// Steps from chunk to chunk: a file that is cut off is found out before a region of its upper part looks fine.
fn survey(file: &mut File) -> Result<Survey, Fault> {
    let bytes = file.metadata().map_err(Fault::Read)?.len();
    let mut file = BufReader::with_capacity(64, file);
    let (mut place, mut picture_bytes) = (8_u64, 0);
    let cut = || Fault::Truncated("it ends before its last part (IEND)".into());
    loop {
        if place + 12 > bytes {
            return Err(cut());
        }
        let mut head = [0_u8; 8];
        file.seek(SeekFrom::Start(place)).map_err(Fault::Read)?;
        file.read_exact(&mut head)?;
        let length = u64::from(u32::from_be_bytes([head[0], head[1], head[2], head[3]]));
        match &head[4..] {
            b"IEND" => return Ok(Survey { picture_bytes }),
            b"IDAT" => picture_bytes += length,
            _ => {}
        }
        place += 12 + length;
    }
}

fn check_length(reader: &Reader<BufReader<File>>, size: (u32, u32), survey: Survey) -> Result<(), Fault> {
    let (width, height) = (u64::from(size.0), u64::from(size.1));
    let info = reader.info();
    let decoded = info.raw_row_length() as u64 * height;
    if decoded / MAX_RATIO > survey.picture_bytes {
        return Err(Fault::ImplausibleSize { width, height, bytes: survey.picture_bytes });
    }
    let needed = reader.output_buffer_size().map_or(u64::MAX, |n| n as u64);
    if info.interlaced && needed > MAX_WHOLE_BYTES {
        return Err(Fault::TooLargeWhole { needed });
    }
    Ok(())
}

/// Colour as given by the decoder, and whether there is transparency.
fn colour(reader: &Reader<BufReader<File>>) -> (Colour, bool) {
    match reader.output_color_type().0 {
        ColorType::Grayscale => (Colour::Grey, false),
        ColorType::GrayscaleAlpha => (Colour::Grey, true),
        ColorType::Rgba => (Colour::Rgb, true),
        ColorType::Rgb | ColorType::Indexed => (Colour::Rgb, false),
    }
}

fn sixteen(reader: &Reader<BufReader<File>>) -> bool {
    reader.output_color_type().1 == png::BitDepth::Sixteen
}

fn per_mm(info: &png::Info<'_>) -> Option<(f64, f64)> {
    let dims = info.pixel_dims.filter(|d| d.unit == Unit::Meter)?;
    Some((f64::from(dims.xppu) / 1000.0, f64::from(dims.yppu) / 1000.0))
}

/// sRGB and gAMA, in the order of precedence of the PNG specification; the profile goes before both.
fn declared(info: &png::Info<'_>) -> Declared {
    if info.srgb.is_some() {
        return Declared::Srgb;
    }
    match info.gama_chunk.map(|g| f64::from(g.into_value())) {
        // About 1/2.2 is what every writer of sRGB states, so it says no more than nothing.
        Some(exponent) if exponent > 0.01 && (exponent - 1.0 / 2.2).abs() > GAMMA_SRGB_SLACK => {
            Declared::Gamma((1e5 / exponent).round() / 1e5)
        }
        _ => Declared::Nothing,
    }
}

/// One row of the decoder's bytes, cut to the region and freed of transparency.
struct Cutter {
    samples: usize,
    channels: usize,
    sixteen: bool,
    region: Region,
    row: Vec<u16>,
}

impl Cutter {
    fn cut(&mut self, bytes: &[u8]) -> &[u16] {
        let (samples, channels) = (self.samples, self.channels);
        let (skip, take) = (self.region.x as usize, self.region.width as usize);
        self.row.clear();
        if self.sixteen {
            let pixels = bytes.chunks_exact(2 * samples).skip(skip).take(take);
            let wide = |pair: &[u8]| u16::from_be_bytes([pair[0], pair[1]]);
            self.row.extend(pixels.flat_map(|p| p[..2 * channels].chunks_exact(2).map(wide)));
        } else {
            let pixels = bytes.chunks_exact(samples).skip(skip).take(take);
            self.row.extend(pixels.flat_map(|p| p[..channels].iter().map(|&v| u16::from(v))));
        }
        &self.row
    }
}

impl Source for PngPicture {
    fn read(&mut self, region: Region, sink: &mut RowSink<'_>) -> Result<(), Fault> {
        let mut reader = reader(&self.path)?;
        let samples = reader.output_color_type().0.samples();
        let channels = self.colour.channels();
        let mut cutter = Cutter { samples, channels, sixteen: sixteen(&reader), region, row: Vec::new() };
        if reader.info().interlaced {
            return self.read_whole(reader, &mut cutter, sink);
        }
        for row in 0..region.y + region.height {
            let Some(bytes) = reader.next_row().map_err(fault)? else {
                return Err(Fault::Truncated(format!("it ends at row {row}")));
            };
            if row >= region.y && sink(row - region.y, cutter.cut(bytes.data())).is_break() {
                break;
            }
        }
        Ok(())
    }
}

impl PngPicture {
    fn read_whole(
        &mut self,
        mut reader: Reader<BufReader<File>>,
        cutter: &mut Cutter,
        sink: &mut RowSink<'_>,
    ) -> Result<(), Fault> {
        let size = reader.output_buffer_size().unwrap_or(0);
        let line = reader.output_line_size(reader.info().width).unwrap_or(0).max(1);
        if self.decoded.is_none() {
            let mut buffer = vec![0; size];
            reader.next_frame(&mut buffer).map_err(fault)?;
            self.decoded = Some(buffer);
        }
        let rows = self.decoded.as_deref().unwrap_or_default().chunks_exact(line);
        let (skip, take) = (cutter.region.y as usize, cutter.region.height as usize);
        for (i, bytes) in (0..).zip(rows.skip(skip).take(take)) {
            if sink(i, cutter.cut(bytes)).is_break() {
                break;
            }
        }
        Ok(())
    }
}
