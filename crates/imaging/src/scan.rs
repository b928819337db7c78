//! An opened scan.

use std::fs::File;
use std::io::Read;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use planes::{Encoded, Linear, LumaWeights, Meaning, Picture, Plane, Region};

use crate::error::{Fault, ImagingError};
use crate::info::{Format, Info, pitch};
use crate::profile::{self, Profile};
use crate::source::{Declared, Header, MAX_REGION_BYTES, Primaries, Scale, Source};
use crate::tone::{Tone, ToneChoice, ToneUsed, outside, shares};
use crate::{Remark, Resolution, jpeg_file, png_file, tiff};

/// A region as linear light, and how it was got.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The region; 0 is the file's zero and exactly 1 its full scale, so that clipping can be told.
    pub picture: Picture<Linear>,
    /// How encoded samples were turned into light.
    pub tone: ToneUsed,
    /// Reservations about the file and about the tone.
    pub remarks: Vec<Remark>,
}

/// A region as the file holds it, samples over full scale.
#[derive(Debug, Clone, PartialEq)]
pub struct EncodedReading {
    /// The region.
    pub picture: Picture<Encoded>,
    /// Reservations about the file.
    pub remarks: Vec<Remark>,
}

/// An opened scan file: its header is read, and nothing else is held, except that a picture which can only be decoded
/// whole (JPEG, interlaced PNG) is kept after its first use.
pub struct Scan {
    path: PathBuf,
    info: Info,
    stored: (u32, u32),
    scale: Scale,
    declared: Declared,
    primaries: Option<Primaries>,
    profile: Option<Result<Profile, String>>,
    source: Box<dyn Source>,
}

impl std::fmt::Debug for Scan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Scan").field("path", &self.path).field("info", &self.info).finish_non_exhaustive()
    }
}

impl Scan {
    /// Opens a file and reads its header; refuses what can be known to be unreadable from that.
    pub fn open(path: &Path) -> Result<Self, ImagingError> {
        open_source(path)
            .map(|(format, header, source)| Self::new(path, format, header, source))
            .map_err(|f| f.at(path))
    }

    fn new(path: &Path, format: Format, header: Header, source: Box<dyn Source>) -> Self {
        let mut remarks = header.remarks;
        let notes = header.notes;
        let orientation = notes.turned(&mut remarks);
        let (width, height) = orientation.sides(header.size.0, header.size.1);
        let resolution = notes.resolution.map(|r| {
            let (across, down) = orientation.sides(r.across, r.down);
            Resolution { across, down, ..r }
        });
        let pitch_um = pitch(resolution.map(Resolution::per_mm), &mut remarks);
        let parsed = header.icc.as_deref().map(|bytes| profile::parse(bytes, header.colour));
        let (summary, profile) = parsed.unzip();
        let info = Info {
            width,
            height,
            colour: header.colour,
            bits: header.bits,
            floating: header.floating,
            format,
            pitch_um,
            resolution,
            maker: notes.maker,
            model: notes.model,
            software: notes.software,
            moment: notes.moment,
            profile: summary,
            orientation,
            remarks,
        };
        let (stored, scale, primaries) = (header.size, header.scale, header.primaries);
        Self { path: path.into(), info, stored, scale, declared: header.declared, primaries, profile, source }
    }

    /// What the header says.
    pub fn info(&self) -> &Info {
        &self.info
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Linear light of a region of the picture as shown. Of a TIFF only the strips or tiles that meet the region are
    /// read; of a PNG the rows down to the region's last.
    pub fn read_linear(&mut self, region: Region, tone: ToneChoice) -> Result<Reading, ImagingError> {
        let mut readings = self.read_linear_regions(&[region], tone)?;
        readings.pop().ok_or_else(|| Fault::NotAPicture.at(&self.path))
    }

    /// Several regions, in the order in which they are asked for, in one passage over the rows from the first of them to the last: for
    /// regions that share rows, which would be unpacked again for each by itself. All of them are held at once.
    pub fn read_linear_regions(&mut self, regions: &[Region], tone: ToneChoice) -> Result<Vec<Reading>, ImagingError> {
        let tone = self.tone(tone);
        let read = self.read_planes::<Linear>(regions, |row, light| tone.apply(row, light))?;
        let reading = |(planes, outside): Planes<Linear>| {
            let picture = self.picture(planes, tone.luma)?;
            let remarks = self.info.remarks.iter().chain(&tone.remarks).cloned().chain(clipped(outside)).collect();
            Ok(Reading { picture, tone: tone.used.clone(), remarks })
        };
        read.into_iter().map(reading).collect()
    }

    /// A region of the picture as shown, as the file holds it.
    pub fn read_encoded(&mut self, region: Region) -> Result<EncodedReading, ImagingError> {
        let scale = self.scale;
        let mut read = self.read_planes::<Encoded>(&[region], |row, values| shares(row, scale, values))?;
        let (planes, outside) = read.pop().ok_or_else(|| Fault::NotAPicture.at(&self.path))?;
        let luma = self.tone(ToneChoice::Icc).luma;
        let remarks = self.info.remarks.iter().cloned().chain(clipped(outside)).collect();
        Ok(EncodedReading { picture: self.picture(planes, luma)?, remarks })
    }

    /// The whole picture as shown, as a region.
    pub fn whole(&self) -> Region {
        Region { x: 0, y: 0, width: self.info.width, height: self.info.height }
    }

    /// How a choice of tone works out for this file.
    pub(crate) fn tone(&self, choice: ToneChoice) -> Tone {
        let (colour, scale) = (self.info.colour, self.scale);
        let tone = match (choice, &self.profile) {
            (ToneChoice::Curve(curve), Some(Ok(profile))) => {
                Tone::curve(curve, colour, scale).with_primaries_of(profile)
            }
            (ToneChoice::Curve(curve), _) => Tone::curve(curve, colour, scale),
            (ToneChoice::Icc, None) => Tone::declared(self.declared, colour, scale),
            (ToneChoice::Icc, Some(Ok(profile))) => {
                let description = self.info.profile.as_ref().map_or("", |p| p.description.as_str());
                Tone::profile(profile, description, scale)
            }
            (ToneChoice::Icc, Some(Err(reason))) => {
                Tone::assumed(Remark::ProfileUnusable { reason: reason.clone() }, colour, scale)
            }
        };
        match (self.primaries, &self.profile) {
            (Some(primaries), None) => tone.with_primaries(primaries),
            _ => tone,
        }
    }

    /// Words of a stored sample.
    pub(crate) fn words(&self) -> usize {
        self.scale.words()
    }

    /// Columns and rows as stored.
    pub(crate) fn stored(&self) -> (u32, u32) {
        self.stored
    }

    pub(crate) fn replace_source(&mut self, source: Box<dyn Source>) {
        self.source = source;
    }

    pub(crate) fn source(&mut self) -> &mut dyn Source {
        &mut *self.source
    }

    /// The samples of shown regions, plane by plane, put through `convert` row by stored row; and how many of them lie
    /// outside the range.
    fn read_planes<M: Meaning>(
        &mut self,
        regions: &[Region],
        convert: impl Fn(&[u16], &mut Vec<f32>),
    ) -> Result<Vec<Planes<M>>, ImagingError> {
        for region in regions {
            self.check_region(*region).map_err(|fault| fault.at(&self.path))?;
        }
        let (channels, scale, orientation) = (self.info.colour.channels(), self.scale, self.info.orientation);
        let mut pieces: Vec<Piece> =
            regions.iter().map(|region| Piece::new(orientation.to_stored(*region, self.stored), channels)).collect();
        let Some(all) = pieces.iter().map(|piece| piece.stored).reduce(around) else { return Ok(Vec::new()) };
        let mut values = Vec::new();
        let mut place = |row: u32, samples: &[u16]| {
            for piece in pieces.iter_mut().filter(|piece| piece.has_row(all.y + row)) {
                let samples = piece.columns(all.x, samples, channels * scale.words());
                piece.outside += outside(samples, scale);
                convert(samples, &mut values);
                let size = (piece.stored.width as usize, piece.stored.height as usize);
                let piece_row = (all.y + row - piece.stored.y) as usize;
                for (column, pixel) in values.chunks_exact(channels).enumerate() {
                    let index = orientation.shown_index(column, piece_row, size);
                    piece.planes.iter_mut().zip(pixel).for_each(|(plane, &v)| plane[index] = v);
                }
            }
            ControlFlow::Continue(())
        };
        self.source.read(all, &mut place).map_err(|fault| fault.at(&self.path))?;
        let finished = |(piece, region): (Piece, &Region)| {
            let (width, height) = (region.width as usize, region.height as usize);
            let made = piece.planes.into_iter().map(|samples| Plane::new(width, height, samples));
            let made = made.collect::<Result<_, _>>();
            made.map(|planes| (planes, piece.outside)).map_err(|e| Fault::Damaged(e.to_string()).at(&self.path))
        };
        pieces.into_iter().zip(regions).map(finished).collect()
    }

    fn check_region(&self, region: Region) -> Result<(), Fault> {
        let (width, height) = (self.info.width, self.info.height);
        if !region.lies_within(width, height) {
            return Err(Fault::RegionOutside { region, width, height });
        }
        let samples = u64::from(region.width) * u64::from(region.height) * self.info.colour.channels() as u64;
        let needed = samples * size_of::<f32>() as u64;
        if needed > MAX_REGION_BYTES { Err(Fault::RegionTooLarge { region, needed }) } else { Ok(()) }
    }

    pub(crate) fn picture<M: Meaning>(
        &self,
        planes: Vec<Plane<M>>,
        luma: LumaWeights,
    ) -> Result<Picture<M>, ImagingError> {
        match <[Plane<M>; 3]>::try_from(planes) {
            Ok(planes) => Picture::rgb(planes, luma).map_err(|e| Fault::Damaged(e.to_string()).at(&self.path)),
            Err(mut one) => match one.pop() {
                Some(plane) => Ok(Picture::grey(plane)),
                None => Err(Fault::NotAPicture.at(&self.path)),
            },
        }
    }
}

/// A region's planes, and how many of its samples lie outside the range.
type Planes<M> = (Vec<Plane<M>>, u64);

/// A region that is being read.
struct Piece {
    /// As stored.
    stored: Region,
    planes: Vec<Vec<f32>>,
    /// Samples outside the range.
    outside: u64,
}

impl Piece {
    fn new(stored: Region, channels: usize) -> Self {
        let size = stored.width as usize * stored.height as usize;
        Self { stored, planes: vec![vec![0.0; size]; channels], outside: 0 }
    }

    fn has_row(&self, stored_row: u32) -> bool {
        (self.stored.y..self.stored.y + self.stored.height).contains(&stored_row)
    }

    /// Its part of a stored row that begins at a column.
    fn columns<'s>(&self, first: u32, row: &'s [u16], pixel_words: usize) -> &'s [u16] {
        let from = (self.stored.x - first) as usize * pixel_words;
        &row[from..from + self.stored.width as usize * pixel_words]
    }
}

/// The region about two.
fn around(a: Region, b: Region) -> Region {
    let (x, y) = (a.x.min(b.x), a.y.min(b.y));
    let (right, lower) = ((a.x + a.width).max(b.x + b.width), (a.y + a.height).max(b.y + b.height));
    Region { x, y, width: right - x, height: lower - y }
}

fn clipped(samples: u64) -> Option<Remark> {
    (samples > 0).then_some(Remark::OutsideRange { samples })
}

fn open_source(path: &Path) -> Result<(Format, Header, Box<dyn Source>), Fault> {
    let mut start = [0_u8; 8];
    // Asked before opening: to open a named pipe would wait for somebody to write into it.
    if !std::fs::metadata(path).map_err(Fault::Read)?.is_file() {
        return Err(Fault::NotAFile);
    }
    let mut file = File::open(path).map_err(Fault::Read)?;
    let mut read = 0;
    while let n @ 1.. = file.read(&mut start[read..]).map_err(Fault::Read)? {
        read += n;
    }
    match &start[..read] {
        [] => Err(Fault::Truncated("it holds no bytes at all".into())),
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => {
            tiff::open(file).map(|(header, source)| (Format::Tiff, header, source))
        }
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n'] => {
            png_file::open(path).map(|(header, source)| (Format::Png, header, source))
        }
        [0xff, 0xd8, 0xff, ..] => jpeg_file::open(path).map(|(header, source)| (Format::Jpeg, header, source)),
        _ => Err(Fault::NotAPicture),
    }
}
