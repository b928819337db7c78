//! PNG files, row by row unless interlaced.

mod survey;

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

use planes::Region;
use png::{ColorType, Decoder, DecodingError, Reader, Transformations, Unit};

use crate::error::Fault;
use crate::notes::{Notes, Resolution, ResolutionUnit};
use crate::source::{Declared, Header, MAX_WHOLE_BYTES, Primaries, RowSink, Scale, Source, check_size};
use crate::{Colour, Remark, exif_block, primaries};

use survey::{Survey, survey};

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
    check_length(&reader, size, &survey)?;
    let mut remarks = Vec::new();
    let (colour, alpha) = colour(&reader);
    if alpha {
        remarks.push(Remark::AlphaDropped);
    }
    if info.color_type == ColorType::Indexed {
        remarks.push(Remark::PaletteResolved);
    }
    if info.bit_depth as u8 <= 4 && info.color_type == ColorType::Grayscale {
        remarks.push(Remark::FewBits { bits: info.bit_depth as u8 });
    }
    let (exif, by_exif) = match info.exif_metadata.as_deref().or(survey.exif.as_deref()) {
        Some(block) => exif_block::read(block),
        None => (Notes::default(), Declared::Nothing),
    };
    let tone = tone(info, &mut remarks).unwrap_or_else(|| by_chunks(info, by_exif));
    let own = Notes { resolution: resolution(info), software: survey.software.clone(), ..Notes::default() };
    let last = Notes { moment: survey.moment, ..Notes::default() };
    let icc = match &info.icc_profile {
        _ if tone.over_profile => None,
        Some(icc) => Some(icc.to_vec()),
        // One that the decoder dropped is damaged.
        None => survey.profile.then(Vec::new),
    };
    let header = Header {
        size,
        colour,
        bits: info.bit_depth as u8,
        floating: false,
        scale: Scale::Whole(if sixteen(&reader) { 65535 } else { 255 }),
        icc,
        declared: tone.declared,
        primaries: tone.primaries,
        notes: own.or(exif).or_xmp(survey.xmp.as_deref(), &mut remarks).or(last),
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

fn check_length(reader: &Reader<BufReader<File>>, size: (u32, u32), survey: &Survey) -> Result<(), Fault> {
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

fn resolution(info: &png::Info<'_>) -> Option<Resolution> {
    let dims = info.pixel_dims.filter(|d| d.unit == Unit::Meter)?;
    Some(Resolution { across: dims.xppu.into(), down: dims.yppu.into(), unit: ResolutionUnit::Metre })
}

/// What the chunks beside the profile say of colour.
struct Stated {
    declared: Declared,
    primaries: Option<Primaries>,
    /// It goes before the profile.
    over_profile: bool,
}

/// cICP, which goes before everything else (PNG specification, third edition, 12.1 and 4.3); numbers of ITU-T H.273.
fn tone(info: &png::Info<'_>, remarks: &mut Vec<Remark>) -> Option<Stated> {
    let points = info.coding_independent_code_points?;
    let declared = match points.transfer_function {
        1 | 6 | 14 | 15 => Some(Declared::Bt709),
        4 => Some(Declared::Gamma(2.2)),
        5 => Some(Declared::Gamma(2.8)),
        8 => Some(Declared::Linear),
        13 => Some(Declared::Srgb),
        _ => None,
    };
    let full = points.matrix_coefficients == 0 && points.is_video_full_range_image;
    match (declared, primaries::by_code(points.color_primaries)) {
        (Some(declared), Some(primaries)) if full => {
            Some(Stated { declared, primaries: Some(primaries), over_profile: true })
        }
        _ => {
            let (transfer, primaries) = (points.transfer_function, points.color_primaries);
            remarks.push(Remark::CodePointsUnknown { transfer, primaries });
            None
        }
    }
}

/// sRGB, then gAMA and cHRM, in the order of precedence of the PNG specification; last what EXIF says.
fn by_chunks(info: &png::Info<'_>, by_exif: Declared) -> Stated {
    let plain = |declared| Stated { declared, primaries: None, over_profile: false };
    if info.srgb.is_some() {
        return plain(Declared::Srgb);
    }
    let chromaticities = info.chrm_chunk.and_then(|c| {
        let xy = |(x, y): (png::ScaledFloat, png::ScaledFloat)| (f64::from(x.into_value()), f64::from(y.into_value()));
        primaries::from_chromaticities([xy(c.red), xy(c.green), xy(c.blue)], xy(c.white))
    });
    let declared = match info.gama_chunk.map(|g| f64::from(g.into_value())) {
        // About 1/2.2 is what every writer of sRGB states, so it says no more than nothing.
        Some(exponent) if exponent > 0.01 && (exponent - 1.0 / 2.2).abs() > GAMMA_SRGB_SLACK => {
            Declared::Gamma((1e5 / exponent).round() / 1e5)
        }
        _ => by_exif,
    };
    Stated { primaries: chromaticities, ..plain(declared) }
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
