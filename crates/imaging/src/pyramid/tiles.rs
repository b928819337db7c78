//! From rows of light to JPEG tiles.

use std::path::Path;
use std::sync::Mutex;

use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
use planes::srgb_encode;

use super::level::Cut;
use super::tile_name;
use crate::error::Fault;
use crate::{Orientation, profile::UNITY};

/// Steps of light that the display table tells apart: at the dark end one step is 0.05 of an 8-bit step.
const STEPS: usize = 65536;

/// A tile's rectangle in a band of stored rows.
pub(super) struct Block {
    pub level: u32,
    pub columns: Cut,
    pub rows: Cut,
}

/// Turns light into display-ready bytes, and bands of them into files.
pub(super) struct Painter<'a> {
    display: Vec<u8>,
    /// From light in the file's channels to linear sRGB, when they differ.
    to_srgb: Option<[[f32; 3]; 3]>,
    channels: usize,
    orientation: Orientation,
    quality: u8,
    folder: &'a Path,
}

impl<'a> Painter<'a> {
    pub(super) fn new(
        to_srgb: [[f32; 3]; 3],
        channels: usize,
        orientation: Orientation,
        quality: u8,
        folder: &'a Path,
    ) -> Self {
        let byte = |i: usize| (srgb_encode(i as f64 / (STEPS - 1) as f64) * 255.0).round() as u8;
        let display = (0..STEPS).map(byte).collect();
        let to_srgb = (channels == 3 && to_srgb != UNITY).then_some(to_srgb);
        Self { display, to_srgb, channels, orientation, quality, folder }
    }

    fn byte(&self, light: f32) -> u8 {
        self.display[(light.clamp(0.0, 1.0) * (STEPS - 1) as f32 + 0.5) as usize]
    }

    /// Appends a row of light as display-ready bytes.
    pub(super) fn paint(&self, light: &[f32], band: &mut Vec<u8>) {
        match &self.to_srgb {
            None => band.extend(light.iter().map(|&v| self.byte(v))),
            Some(m) => band.extend(
                light
                    .chunks_exact(3)
                    .flat_map(|p| m.map(|row| self.byte(row[0] * p[0] + row[1] * p[1] + row[2] * p[2]))),
            ),
        }
    }

    /// Compresses and writes the tiles of a band on all cores; `stride` is the length of a row of the band.
    pub(super) fn write_tiles(&self, blocks: &[Block], band: &[u8], stride: usize) -> Result<(), Fault> {
        let workers = std::thread::available_parallelism().map_or(1, usize::from).min(blocks.len());
        let share = blocks.len().div_ceil(workers.max(1)).max(1);
        let first_fault = Mutex::new(None);
        std::thread::scope(|scope| {
            for part in blocks.chunks(share) {
                scope.spawn(|| {
                    let result = part.iter().try_for_each(|block| self.write_tile(block, band, stride));
                    if let (Err(fault), Ok(mut first)) = (result, first_fault.lock()) {
                        first.get_or_insert(fault);
                    }
                });
            }
        });
        match first_fault.into_inner() {
            Ok(Some(fault)) => Err(fault),
            _ => Ok(()),
        }
    }

    fn write_tile(&self, block: &Block, band: &[u8], stride: usize) -> Result<(), Fault> {
        let (width, height) = self.orientation.sides(block.columns.length, block.rows.length);
        let (column, row) = self.orientation.sides(block.columns.tile, block.rows.tile);
        let jpeg = self.compress(&self.turned(block, band, stride), width as u16, height as u16)?;
        std::fs::write(self.folder.join(tile_name(block.level, column, row)), jpeg).map_err(Fault::Write)
    }

    /// The tile's pixels as shown.
    fn turned(&self, block: &Block, band: &[u8], stride: usize) -> Vec<u8> {
        let n = self.channels;
        let size = (block.columns.length as usize, block.rows.length as usize);
        let mut tile = vec![0; size.0 * size.1 * n];
        for (row, stored) in band.chunks_exact(stride).enumerate() {
            let stored = &stored[block.columns.start as usize * n..][..size.0 * n];
            for (column, pixel) in stored.chunks_exact(n).enumerate() {
                let at = self.orientation.shown_index(column, row, size) * n;
                tile[at..at + n].copy_from_slice(pixel);
            }
        }
        tile
    }

    fn compress(&self, pixels: &[u8], width: u16, height: u16) -> Result<Vec<u8>, Fault> {
        let mut jpeg = Vec::with_capacity(pixels.len() / 4);
        let mut encoder = Encoder::new(&mut jpeg, self.quality);
        // Colour at full resolution: fringes along edges are part of what is looked at.
        encoder.set_sampling_factor(SamplingFactor::F_1_1);
        let kind = if self.channels == 3 { ColorType::Rgb } else { ColorType::Luma };
        let done = encoder.encode(pixels, width, height, kind);
        done.map_err(|error| Fault::Write(std::io::Error::other(error.to_string())))?;
        Ok(jpeg)
    }
}
