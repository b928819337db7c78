//! JPEG files, and the JPEG strips inside TIFF.

use std::fs::File;
use std::io::{BufReader, Cursor, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use planes::Region;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;
use zune_jpeg::{ImageInfo, JpegDecoder};

use crate::Colour;
use crate::error::{Fault, Feature};
use crate::exif_block;
use crate::notes::{Notes, Resolution, ResolutionUnit};
use crate::source::{Declared, Header, MAX_WHOLE_BYTES, RowSink, Scale, Source, check_size};

/// Most pixels for one byte of a JPEG: two bits for a block of 8 x 8 pixels make 256 where there is one channel;
/// progressive files with long runs of empty blocks go beyond it.
const MAX_PIXELS_PER_BYTE: u64 = 512;

struct JpegPicture {
    path: PathBuf,
    size: (u32, u32),
    colour: Colour,
    decoded: Option<Vec<u8>>,
}

/// Reads the header and checks that the file is whole.
pub(crate) fn open(path: &Path) -> Result<(Header, Box<dyn Source>), Fault> {
    let mut file = BufReader::new(File::open(path).map_err(Fault::Read)?);
    let outline = Outline::of(&mut file)?;
    outline.check()?;
    file.rewind().map_err(Fault::Read)?;
    let mut decoder = JpegDecoder::new_with_options(&mut file, options());
    decoder.decode_headers().map_err(fault)?;
    let info = decoder.info().ok_or_else(|| Fault::Damaged("its header cannot be read".into()))?;
    let colour = colour(decoder.input_colorspace(), info.components)?;
    let size = check_size(u64::from(info.width), u64::from(info.height))?;
    let icc = decoder.icc_profile();
    let (exif, declared) =
        decoder.exif().map_or((Notes::default(), Declared::Nothing), |block| exif_block::read(block));
    let xmp = decoder.xmp().cloned();
    drop(decoder);
    check_length(&mut file, size, outline.needed(&info), outline.scan_at)?;
    let mut remarks = Vec::new();
    let own = Notes { resolution: density(info.pixel_density, info.x_density, info.y_density), ..Notes::default() };
    let header = Header {
        size,
        colour,
        bits: 8,
        floating: false,
        scale: Scale::Whole(255),
        icc,
        declared,
        primaries: None,
        notes: own.or(exif).or_xmp(xmp.as_deref(), &mut remarks),
        remarks,
    };
    Ok((header, Box::new(JpegPicture { path: path.into(), size, colour, decoded: None })))
}

fn options() -> DecoderOptions {
    DecoderOptions::default().set_max_width(65_535).set_max_height(65_535)
}

fn colour(space: Option<ColorSpace>, components: u8) -> Result<Colour, Fault> {
    match (space, components) {
        (_, 1) => Ok(Colour::Grey),
        (Some(ColorSpace::CMYK | ColorSpace::YCCK), _) | (_, 4) => Err(Feature::Cmyk.into()),
        (_, 3) => Ok(Colour::Rgb),
        (_, n) => Err(Feature::Jpeg(format!("{n} channels")).into()),
    }
}

/// JFIF density: unit 1 is per inch, 2 per centimetre, 0 a mere ratio.
fn density(unit: u8, x: u16, y: u16) -> Option<Resolution> {
    let unit = match unit {
        1 => ResolutionUnit::Inch,
        2 => ResolutionUnit::Centimetre,
        _ => return None,
    };
    Some(Resolution { across: x.into(), down: y.into(), unit })
}

/// What decides whether a stream can be read, and at what cost (ITU-T T.81, B.2.2 and B.2.3).
#[derive(Debug, Clone, Copy, Default)]
struct Outline {
    /// The frame's marker, which names the process.
    process: u8,
    /// Bits per sample.
    precision: u8,
    /// Channels in the first scan.
    in_first_scan: u8,
    /// Where the first scan begins.
    scan_at: u64,
}

impl Outline {
    /// Walks from marker to marker up to the first scan; what is not found stays zero.
    fn of(stream: &mut (impl Read + Seek)) -> Result<Self, Fault> {
        const START_OF_SCAN: u8 = 0xda;
        let mut outline = Self::default();
        stream.seek(SeekFrom::Start(2)).map_err(Fault::Read)?;
        let mut marker = [0; 2];
        while stream.read_exact(&mut marker).is_ok() {
            if marker == [0xff, 0xff] {
                // Markers may be preceded by any number of fill bytes.
                stream.seek(SeekFrom::Current(-1)).map_err(Fault::Read)?;
                continue;
            }
            let mut head = [0; 3];
            if marker[0] != 0xff || stream.read_exact(&mut head).is_err() {
                break;
            }
            match marker[1] {
                START_OF_SCAN => {
                    let scan_at = stream.stream_position().map_err(Fault::Read)?;
                    return Ok(Self { in_first_scan: head[2], scan_at, ..outline });
                }
                0xc4 | 0xc8 | 0xcc => {}
                process @ 0xc0..=0xcf => outline = Self { process, precision: head[2], ..outline },
                _ => {}
            }
            let length = i64::from(u16::from_be_bytes([head[0], head[1]]));
            stream.seek(SeekFrom::Current(length - 3)).map_err(Fault::Read)?;
        }
        Ok(outline)
    }

    /// Refuses by name what the decoder would call damaged.
    fn check(self) -> Result<(), Fault> {
        let name = match self.process {
            0 | 0xc0..=0xc2 if matches!(self.precision, 0 | 8) => return Ok(()),
            0 | 0xc0..=0xc2 => return Err(Feature::BitDepth(self.precision.into()).into()),
            0xc3 | 0xc7 | 0xcb | 0xcf => "lossless",
            0xc9..=0xca => "arithmetic coding",
            _ => "hierarchical",
        };
        Err(Feature::Jpeg(name.into()).into())
    }

    /// Bytes that decoding takes: the samples, and where they come in several scans their coefficients of 16 bits too.
    fn needed(self, info: &ImageInfo) -> u64 {
        let samples = u64::from(info.width) * u64::from(info.height) * u64::from(info.components);
        let at_once = info.sof.is_sequential_dct() && self.in_first_scan == info.components;
        if at_once { samples } else { 3 * samples }
    }
}

/// Refuses files that are too large to decode whole, too short for what they declare, or cut off.
fn check_length(file: &mut BufReader<File>, size: (u32, u32), needed: u64, scan_at: u64) -> Result<(), Fault> {
    let (width, height) = (u64::from(size.0), u64::from(size.1));
    let bytes = file.get_ref().metadata().map_err(Fault::Read)?.len();
    if needed > MAX_WHOLE_BYTES || bytes > MAX_WHOLE_BYTES {
        return Err(Fault::TooLargeWhole { needed: needed.max(bytes) });
    }
    if width * height / MAX_PIXELS_PER_BYTE > bytes {
        return Err(Fault::ImplausibleSize { width, height, bytes });
    }
    if has_end_marker(file, scan_at, bytes)? {
        Ok(())
    } else {
        Err(Fault::Truncated("the end-of-picture mark is missing".into()))
    }
}

/// Looks for the end-of-image marker from the file's end backwards: a decoder would fill a missing end with grey.
fn has_end_marker(file: &mut BufReader<File>, picture_start: u64, bytes: u64) -> Result<bool, Fault> {
    const BLOCK: u64 = 64 << 10;
    let mut end = bytes;
    while end > picture_start {
        let start = end.saturating_sub(BLOCK).max(picture_start);
        // One byte more than the block, so that a marker across its end is seen.
        let mut block = vec![0; (end + 1).min(bytes).saturating_sub(start) as usize];
        file.seek(SeekFrom::Start(start)).map_err(Fault::Read)?;
        file.read_exact(&mut block)?;
        if block.windows(2).any(|pair| pair == [0xff, 0xd9]) {
            return Ok(true);
        }
        end = start;
    }
    Ok(false)
}

fn fault(error: DecodeErrors) -> Fault {
    match error {
        DecodeErrors::ExhaustedData | DecodeErrors::IoErrors(_) => {
            Fault::Truncated("the data ends in the middle of the picture".into())
        }
        DecodeErrors::Unsupported(kind) => Feature::Jpeg(format!("{kind:?}")).into(),
        DecodeErrors::ZeroError => Fault::Empty { width: 0, height: 0 },
        other => Fault::Damaged(format!("the JPEG decoder says: {}", format!("{other:?}").trim_end())),
    }
}

fn decode(stream: &[u8], colour: Colour, space: ColorSpace) -> Result<(Vec<u8>, (usize, usize)), Fault> {
    let options = options().jpeg_set_out_colorspace(space);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(stream), options);
    decoder.decode_headers().map_err(fault)?;
    // Strict from the picture on: otherwise the decoder fills what it cannot make out with grey and says nothing. Before
    // it, stray bytes between the headers are harmless.
    decoder.set_options(options.set_strict_mode(true));
    let samples = decoder.decode().map_err(fault)?;
    let size = decoder.dimensions().unwrap_or((0, 0));
    if samples.len() != size.0 * size.1 * colour.channels() {
        return Err(Fault::Damaged("the JPEG decoder gave another number of samples than announced".into()));
    }
    Ok((samples, size))
}

/// What the decoder is asked for.
fn shown_space(colour: Colour) -> ColorSpace {
    match colour {
        Colour::Grey => ColorSpace::Luma,
        Colour::Rgb => ColorSpace::RGB,
    }
}

impl JpegPicture {
    fn samples(&mut self) -> Result<&[u8], Fault> {
        if self.decoded.is_none() {
            let stream = std::fs::read(&self.path).map_err(Fault::Read)?;
            let (samples, size) = decode(&stream, self.colour, shown_space(self.colour))?;
            if size != (self.size.0 as usize, self.size.1 as usize) {
                return Err(Fault::Damaged("it changed while it was being read".into()));
            }
            self.decoded = Some(samples);
        }
        Ok(self.decoded.as_deref().unwrap_or_default())
    }
}

impl Source for JpegPicture {
    fn read(&mut self, region: Region, sink: &mut RowSink<'_>) -> Result<(), Fault> {
        let (width, channels) = (self.size.0 as usize, self.colour.channels());
        let samples = self.samples()?;
        let columns = region.x as usize * channels..(region.x + region.width) as usize * channels;
        let rows = samples.chunks_exact(width * channels).skip(region.y as usize).take(region.height as usize);
        let mut row = Vec::with_capacity(columns.len());
        for (i, stored) in (0..).zip(rows) {
            row.clear();
            row.extend(stored[columns.clone()].iter().map(|&v| u16::from(v)));
            if sink(i, &row).is_break() {
                break;
            }
        }
        Ok(())
    }
}

/// Decodes a strip or tile of a TIFF, whose tables may be stored apart: both are streams with begin and end marks.
/// `plain` says that its channels are red, green and blue as they stand.
pub(crate) fn decode_piece(
    tables: &[u8],
    piece: &[u8],
    (colour, plain): (Colour, bool),
    size: (u32, u32),
) -> Result<Vec<u8>, Fault> {
    let tables = tables.strip_suffix(&[0xff, 0xd9]).unwrap_or(tables);
    let joined = if tables.is_empty() { piece.to_vec() } else { [tables, piece.get(2..).unwrap_or(&[])].concat() };
    let outline = Outline::of(&mut Cursor::new(&joined))?;
    outline.check()?;
    let mut probe = JpegDecoder::new_with_options(ZCursor::new(&joined[..]), options());
    probe.decode_headers().map_err(fault)?;
    let info = probe.info().ok_or_else(|| Fault::Damaged("a strip's JPEG header cannot be read".into()))?;
    if usize::from(info.components) != colour.channels() {
        return Err(Feature::Jpeg(format!("{} channels in a {colour:?} picture", info.components)).into());
    }
    let found = (u32::from(info.width), u32::from(info.height));
    // The last strip may hold rows below the picture.
    if found.0 != size.0 || found.1 < size.1 {
        return Err(Fault::Damaged(format!(
            "a JPEG strip holds {} x {} pixels instead of {} x {}",
            found.0, found.1, size.0, size.1
        )));
    }
    let needed = outline.needed(&info);
    if needed > MAX_WHOLE_BYTES {
        return Err(Fault::TooLargeWhole { needed });
    }
    // A stream that does not say otherwise is taken for luma and colour difference. Asked for just these, the decoder
    // hands the three channels over unchanged.
    let space = match probe.input_colorspace() {
        Some(ColorSpace::YCbCr) if plain => ColorSpace::YCbCr,
        _ => shown_space(colour),
    };
    decode(&joined, colour, space).map(|(samples, _)| samples)
}
