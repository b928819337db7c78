//! TIFF and BigTIFF, read strip by strip or tile by tile, row by row.
//!
//! An own reader, because a scan may be one strip of a gigabyte: every compression is undone as a stream, so that no
//! more than a few rows are ever held. Only the first full picture of a file is looked at.

mod chunk;
mod compression;
mod directory;
mod layout;
mod picture;

use std::fs::File;
use std::sync::{Arc, Mutex};

use crate::error::Fault;
use crate::exif_block::resolution_unit_mm;
use crate::source::{Declared, Header, Source, orientation_of};
use crate::{Orientation, Remark};

use directory::{Directory, tag};
use layout::Layout;
use picture::TiffPicture;

/// Reads the header and checks that the file can hold the picture that it declares.
pub(crate) fn open(file: File) -> Result<(Header, Box<dyn Source>), Fault> {
    let file = Arc::new(Mutex::new(file));
    let (directory, more) = Directory::of_picture(&file)?;
    let mut remarks = Vec::new();
    let layout = Layout::new(&directory, &mut remarks)?;
    if more {
        remarks.push(Remark::FurtherPictures);
    }
    let tag_value = directory.number(tag::ORIENTATION)?.and_then(|v| u32::try_from(v).ok());
    let orientation: Orientation = orientation_of(tag_value, &mut remarks);
    let header = Header {
        size: layout.size,
        colour: layout.colour,
        bits: layout.bits,
        full_scale: layout.full_scale(),
        orientation,
        per_mm: resolution(&directory)?,
        icc: directory.bytes(tag::ICC_PROFILE)?,
        declared: Declared::Nothing,
        remarks,
    };
    Ok((header, Box::new(TiffPicture::new(file, layout))))
}

/// Pixels per millimetre across and down as stored; `None` when a tag is absent or without a unit.
fn resolution(directory: &Directory) -> Result<Option<(f64, f64)>, Fault> {
    let unit = directory.number(tag::RESOLUTION_UNIT)?.unwrap_or(2);
    let Some(unit_mm) = u32::try_from(unit).ok().and_then(resolution_unit_mm) else { return Ok(None) };
    let Some(across) = directory.rational(tag::X_RESOLUTION)? else { return Ok(None) };
    let down = directory.rational(tag::Y_RESOLUTION)?.unwrap_or(across);
    Ok(Some((across / unit_mm, down / unit_mm)))
}
