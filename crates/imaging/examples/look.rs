//! Opens each file named on the command line, reads its middle as linear light, and says what came of it: how the
//! trials on other projects' malformed files were made.

use std::path::Path;
use std::time::Instant;

use imaging::{Colour, Scan, ToneChoice};
use planes::{Channels, Region};

/// Side of the region that is read of pictures larger than it, in pixels.
const SIDE: u32 = 3000;

fn main() {
    let (mut read, mut refused) = (0, 0);
    for name in std::env::args().skip(1) {
        let start = Instant::now();
        let outcome = look(Path::new(&name));
        let seconds = start.elapsed().as_secs_f64();
        match outcome {
            Ok(text) => {
                read += 1;
                println!("ok      {seconds:.3} s  {name}: {text}");
            }
            Err(error) => {
                refused += 1;
                println!("refused {seconds:.3} s  {error}");
            }
        }
    }
    println!("{read} read, {refused} refused");
}

fn look(path: &Path) -> Result<String, imaging::ImagingError> {
    let mut scan = Scan::open(path)?;
    let info = scan.info().clone();
    let (width, height) = (info.width.min(SIDE), info.height.min(SIDE));
    let region = Region { x: (info.width - width) / 2, y: (info.height - height) / 2, width, height };
    let reading = scan.read_linear(region, ToneChoice::Icc)?;
    let encoded = scan.read_encoded(region)?;
    let planes = match encoded.picture.channels() {
        Channels::Grey(plane) => vec![plane.clone()],
        Channels::Rgb { planes, .. } => planes.to_vec(),
    };
    let mean = |p: &planes::Plane<_>| p.samples().iter().map(|&v| f64::from(v)).sum::<f64>() / p.samples().len() as f64;
    let means: Vec<f64> = planes.iter().map(mean).collect();
    let remarks: Vec<&str> = reading.remarks.iter().map(imaging::Remark::code).collect();
    let colour = if info.colour == Colour::Grey { "grey" } else { "rgb" };
    Ok(format!(
        "{} x {} {colour} {} bit, tone {}, pitch {:?}, encoded means {means:.6?}, {remarks:?}",
        info.width,
        info.height,
        info.bits,
        reading.tone.label(),
        info.pitch_um
    ))
}
