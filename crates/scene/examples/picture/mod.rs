//! A drawn frame as a PNG of 8 bits, to be looked at.

use std::error::Error;
use std::fs::File;
use std::io::BufWriter;

use scene::Rendered;

pub struct Picture {
    width: u32,
    height: u32,
    rgb: Vec<u8>,
}

impl Picture {
    pub fn of(frame: &Rendered) -> Self {
        let rgb = frame.samples.iter().map(|sample| (sample >> 8) as u8).collect();
        Self { width: frame.width, height: frame.height, rgb }
    }

    /// Paints a pixel; what lies outside is left out.
    #[allow(dead_code, reason = "only one of the examples draws over its frame")]
    pub fn put(&mut self, x: i64, y: i64, colour: [u8; 3]) {
        if (0..i64::from(self.width)).contains(&x) && (0..i64::from(self.height)).contains(&y) {
            self.rgb[3 * (y * i64::from(self.width) + x) as usize..][..3].copy_from_slice(&colour);
        }
    }

    pub fn save(&self, path: &str) -> Result<(), Box<dyn Error>> {
        let mut encoder = png::Encoder::new(BufWriter::new(File::create(path)?), self.width, self.height);
        encoder.set_color(png::ColorType::Rgb);
        Ok(encoder.write_header()?.write_image_data(&self.rgb)?)
    }
}
