//! Where a picture comes from.

use planes::{Channels, Linear, Picture, Plane, Region};

/// A frame that is looked at piece by piece, so that a large scan is never held whole.
pub trait Frame {
    /// Why a piece could not be had.
    type Error: std::error::Error;

    /// Columns and rows of the whole frame.
    fn size(&self) -> (u32, u32);

    /// The whole frame with `factor` × `factor` pixels averaged into one, in linear light. What is left over at the right
    /// and lower sides is dropped: the result has `width / factor` columns and `height / factor` rows.
    fn reduced(&mut self, factor: u32) -> Result<Picture<Linear>, Self::Error>;

    /// A region at full resolution, in linear light. It is only asked for regions that lie within the frame.
    fn region(&mut self, region: Region) -> Result<Picture<Linear>, Self::Error>;

    /// Several regions that share rows, in the order in which they are asked for: what unpacks whole rows at a time need do so only
    /// once.
    fn regions(&mut self, regions: &[Region]) -> Result<Vec<Picture<Linear>>, Self::Error> {
        regions.iter().map(|region| self.region(*region)).collect()
    }
}

/// A frame that is in memory already.
#[derive(Debug, Clone, PartialEq)]
pub struct Held(pub Picture<Linear>);

impl Frame for Held {
    type Error = std::convert::Infallible;

    fn size(&self) -> (u32, u32) {
        (self.0.width() as u32, self.0.height() as u32)
    }

    fn reduced(&mut self, factor: u32) -> Result<Picture<Linear>, Self::Error> {
        Ok(each_plane(&self.0, |plane| reduced(plane, factor as usize)))
    }

    fn region(&mut self, r: Region) -> Result<Picture<Linear>, Self::Error> {
        let (x, y) = (r.x as usize, r.y as usize);
        Ok(each_plane(&self.0, |plane| cut(plane, (x, y), (r.width as usize, r.height as usize))))
    }
}

fn each_plane(picture: &Picture<Linear>, f: impl Fn(&Plane<Linear>) -> Plane<Linear>) -> Picture<Linear> {
    match picture.channels() {
        Channels::Grey(plane) => Picture::grey(f(plane)),
        Channels::Rgb { planes, luma } => {
            let planes = [0, 1, 2].map(|i| f(&planes[i]));
            Picture::rgb(planes, *luma).expect("planes of one size stay of one size")
        }
    }
}

fn cut(plane: &Plane<Linear>, (x, y): (usize, usize), (width, height): (usize, usize)) -> Plane<Linear> {
    Plane::from_fn(width, height, |column, row| plane.at(x + column, y + row)).expect("a region is never empty")
}

/// The plane with `factor` × `factor` pixels averaged into one; never less than one pixel.
pub(crate) fn reduced(plane: &Plane<Linear>, factor: usize) -> Plane<Linear> {
    if factor <= 1 {
        return plane.clone();
    }
    let (width, height) = ((plane.width() / factor).max(1), (plane.height() / factor).max(1));
    let mut samples = Vec::with_capacity(width * height);
    let mut sums = vec![0.0f32; width];
    for row in 0..height {
        sums.fill(0.0);
        let rows = (row * factor)..((row + 1) * factor).min(plane.height());
        for source in rows.clone() {
            for (sum, cells) in sums.iter_mut().zip(plane.row(source).chunks(factor)) {
                *sum += cells.iter().sum::<f32>();
            }
        }
        let count = rows.len() * factor.min(plane.width());
        samples.extend(sums.iter().map(|sum| sum / count as f32));
    }
    Plane::new(width, height, samples).expect("as many sums as cells")
}
