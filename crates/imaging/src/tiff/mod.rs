//! TIFF and BigTIFF, read strip by strip or tile by tile, row by row.
//!
//! An own reader, because a scan may be one strip of a gigabyte: every compression is undone as a stream, so that no
//! more than a few rows are ever held. Only the first full picture of a file is looked at.

mod chunk;
mod compression;
mod directory;
mod dng;
mod layout;
mod lzw;
mod picture;
mod samples;
mod unpack;

use std::fs::File;
use std::sync::{Arc, Mutex};

use crate::Remark;
use crate::error::Fault;
use crate::notes::{Moment, Notes, Resolution, ResolutionUnit, clean};
use crate::source::{Declared, Header, Source};

use directory::{Directory, tag};
use layout::Layout;
use picture::TiffPicture;
use samples::{Conversion, Kind};

/// Reads the header and checks that the file can hold the picture that it declares.
pub(crate) fn open(file: File) -> Result<(Header, Box<dyn Source>), Fault> {
    let file = Arc::new(Mutex::new(file));
    let found = Directory::of_picture(&file)?;
    let directory = &found.picture;
    let mut remarks = Vec::new();
    let layout = Layout::new(directory, &mut remarks)?;
    if found.more {
        remarks.push(Remark::FurtherPictures);
    }
    let directories: Vec<&Directory> = std::iter::once(directory).chain(&found.root).collect();
    let xmp = directories.iter().find_map(|d| d.bytes(tag::XMP).ok().flatten());
    let own = directories.iter().fold(Notes::default(), |notes, d| notes.or(notes_of(d)));
    let floating = matches!(layout.kind, Kind::Float(_));
    let sensor = matches!(layout.conversion, Conversion::Levels(_));
    let declared = match exif_says_srgb(&directories) {
        _ if sensor => Declared::Linear,
        true => Declared::Srgb,
        false if floating => Declared::LinearByCustom,
        false => Declared::Nothing,
    };
    let header = Header {
        size: layout.size,
        colour: layout.colour,
        bits: layout.kind.bits(),
        floating,
        scale: layout.scale(),
        // One that cannot be read is as good as a damaged one.
        icc: directory.bytes(tag::ICC_PROFILE).unwrap_or(Some(Vec::new())).filter(|_| !sensor),
        declared,
        primaries: sensor.then(|| dng::sensor(&directories, layout.colour.channels(), &mut remarks)),
        notes: own.or_xmp(xmp.as_deref(), &mut remarks),
        remarks,
    };
    Ok((header, Box::new(TiffPicture::new(file, layout))))
}

/// What the tags say beside the picture; an unreadable one says nothing, because it must not spoil a sound picture.
fn notes_of(directory: &Directory) -> Notes {
    let text = |directory: &Directory, tag| clean(&directory.bytes(tag).ok().flatten()?);
    let exif = directory.exif();
    let taken = exif.as_ref().and_then(|d| Moment::parse(&text(d, tag::DATE_TIME_ORIGINAL)?));
    Notes {
        orientation: whole(directory, tag::ORIENTATION),
        resolution: resolution(directory),
        maker: text(directory, tag::MAKE),
        model: text(directory, tag::MODEL),
        software: text(directory, tag::SOFTWARE),
        moment: taken.or_else(|| Moment::parse(&text(directory, tag::DATE_TIME)?)),
    }
}

fn whole(directory: &Directory, tag: u16) -> Option<u32> {
    directory.number(tag).ok().flatten().and_then(|v| u32::try_from(v).ok())
}

/// The resolution as stored; `None` when a tag is absent or without a unit. The inch is the unit when none is stated.
fn resolution(directory: &Directory) -> Option<Resolution> {
    let unit = ResolutionUnit::from_tag(whole(directory, tag::RESOLUTION_UNIT).unwrap_or(2))?;
    let real = |tag| directory.reals(tag).ok().flatten()?.first().copied();
    let across = real(tag::X_RESOLUTION)?;
    Some(Resolution { across, down: real(tag::Y_RESOLUTION).unwrap_or(across), unit })
}

/// EXIF ColorSpace 1.
fn exif_says_srgb(directories: &[&Directory]) -> bool {
    directories.iter().any(|d| d.exif().is_some_and(|e| whole(&e, tag::COLOR_SPACE) == Some(1)))
}
