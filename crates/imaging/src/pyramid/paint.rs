//! From stored samples to what is shown, and halving.
//!
//! What is shown are bytes of sRGB. Lower levels are averages of *light*: a mean of encoded values would make fine
//! contrast darker than the eye sees it from further away. Light is kept as 16-bit numbers, linear in sRGB's primaries and
//! within its gamut, as level 0 shows it; at the dark end one step of them is 0.05 of a step of what is shown.

use std::sync::Arc;

use planes::srgb_encode;

use crate::Orientation;
use crate::profile::UNITY;
use crate::tone::Tone;

/// A table with an entry for every 16-bit sample.
type Table<T> = Box<[T; 65536]>;

/// How far a way to sRGB may be from none at all, in each coefficient: profiles of sRGB itself differ by 0.0002 from one
/// another because they round their primaries. 0.0005 shifts a shown value by no more than a third of a step.
const ROUNDING: f32 = 5e-4;

/// Rows that are shown and averaged together are planes: in each row the channels lie one after the other.
pub(super) struct Painter {
    way: Way,
    channels: usize,
    /// Words of a stored sample.
    words: usize,
    /// What is shown for light.
    display: Table<u8>,
}

enum Way {
    /// For every sample its light (high) and what is shown (low byte), channel by channel.
    Alone(Vec<Arc<Table<u32>>>),
    /// Light of every sample, which the matrix mixes.
    Mixed(Vec<Arc<Table<f32>>>, [[f32; 3]; 3]),
    /// Through a profile's own tables, and the matrix.
    Profile(Tone, [[f32; 3]; 3]),
}

fn table<T: Copy>(values: impl ExactSizeIterator<Item = T>, beyond: T) -> Table<T> {
    let mut all = vec![beyond; 65536];
    all.iter_mut().zip(values).for_each(|(a, v)| *a = v);
    // The length is right by construction.
    all.into_boxed_slice().try_into().unwrap_or_else(|_| Box::new([beyond; 65536]))
}

/// Light as a 16-bit number. Adding 2^23 leaves the nearest whole number in the low bits.
#[inline(always)]
fn counted(light: f32) -> u16 {
    (light.clamp(0.0, 1.0) * 65535.0 + 8_388_608.0).to_bits() as u16
}

impl Painter {
    pub(super) fn new(tone: Tone, channels: usize, words: usize) -> Self {
        let byte = |i: u32| (srgb_encode(f64::from(i) / 65535.0) * 255.0).round() as u8;
        let display = table((0..65536).map(byte).collect::<Vec<_>>().into_iter(), 255);
        let matrix = tone.to_srgb;
        let differs = |a: &[f32; 3], b: &[f32; 3]| a.iter().zip(b).any(|(a, b)| (a - b).abs() > ROUNDING);
        let mixes = channels == 3 && matrix.iter().zip(&UNITY).any(|(a, b)| differs(a, b));
        let way = match tone.tables() {
            None => Way::Profile(tone, matrix),
            Some(tables) if mixes => Way::Mixed(each_once(tables, |t| table(t.iter().copied(), 1.0)), matrix),
            Some(tables) => {
                let both =
                    |light: f32| u32::from(counted(light)) << 8 | u32::from(display[usize::from(counted(light))]);
                Way::Alone(each_once(tables, |t| table(t.iter().map(|&v| both(v)), both(1.0))))
            }
        };
        Self { way, channels, words, display }
    }

    /// Makes a stored row, pixel by pixel, into planes of light and of what is shown.
    pub(super) fn paint(&self, samples: &[u16], scratch: &mut Scratch, light: &mut [u16], shown: &mut [u8]) {
        let count = samples.len() / self.words;
        match &self.way {
            Way::Alone(tables) => alone(tables, samples, light, shown),
            Way::Mixed(tables, matrix) => {
                if let [r, g, b] = tables.as_slice() {
                    let apart = samples.len() / 3;
                    scratch.planes.resize(samples.len(), 0.0);
                    let (reds, rest) = scratch.planes.split_at_mut(apart);
                    let (greens, blues) = rest.split_at_mut(apart);
                    let out = reds.iter_mut().zip(greens).zip(blues);
                    for (p, ((red, green), blue)) in samples.chunks_exact(3).zip(out) {
                        *red = r[usize::from(p[0])];
                        *green = g[usize::from(p[1])];
                        *blue = b[usize::from(p[2])];
                    }
                    mix(matrix, &scratch.planes, light);
                }
                self.show(light, shown);
            }
            Way::Profile(tone, matrix) => {
                tone.apply(samples, &mut scratch.pixels);
                let apart = count / self.channels;
                scratch.planes.resize(count, 0.0);
                for (i, &value) in scratch.pixels.iter().enumerate() {
                    scratch.planes[i % self.channels * apart + i / self.channels] = value;
                }
                if self.channels == 3 {
                    mix(matrix, &scratch.planes, light);
                } else {
                    light.iter_mut().zip(&scratch.planes).for_each(|(l, &v)| *l = counted(v));
                }
                self.show(light, shown);
            }
        }
    }

    /// What is shown for light.
    pub(super) fn show(&self, light: &[u16], shown: &mut [u8]) {
        shown.iter_mut().zip(light).for_each(|(s, &l)| *s = self.display[usize::from(l)]);
    }
}

/// What is computed from each table, the same only once.
fn each_once<T>(tables: &[Arc<[f32]>], make: impl Fn(&[f32]) -> T) -> Vec<Arc<T>> {
    let mut made: Vec<Arc<T>> = Vec::new();
    for (i, table) in tables.iter().enumerate() {
        let twin = tables[..i].iter().position(|t| Arc::ptr_eq(t, table));
        made.push(twin.map_or_else(|| Arc::new(make(table)), |j| made[j].clone()));
    }
    made
}

/// Buffers that are used again from row to row and part to part.
#[derive(Default)]
pub(super) struct Scratch {
    pixels: Vec<f32>,
    planes: Vec<f32>,
    /// Light of a whole part, for the first halving.
    pub(super) light: Vec<u16>,
}

fn alone(tables: &[Arc<Table<u32>>], samples: &[u16], light: &mut [u16], shown: &mut [u8]) {
    match tables {
        [r, g, b] => {
            let apart = samples.len() / 3;
            let (light_r, rest) = light.split_at_mut(apart);
            let (light_g, light_b) = rest.split_at_mut(apart);
            let (shown_r, rest) = shown.split_at_mut(apart);
            let (shown_g, shown_b) = rest.split_at_mut(apart);
            let out = light_r.iter_mut().zip(light_g).zip(light_b).zip(shown_r.iter_mut().zip(shown_g).zip(shown_b));
            for (p, (((lr, lg), lb), ((sr, sg), sb))) in samples.chunks_exact(3).zip(out) {
                let (r, g, b) = (r[usize::from(p[0])], g[usize::from(p[1])], b[usize::from(p[2])]);
                (*lr, *lg, *lb) = ((r >> 8) as u16, (g >> 8) as u16, (b >> 8) as u16);
                (*sr, *sg, *sb) = (r as u8, g as u8, b as u8);
            }
        }
        tables => {
            for ((&v, l), s) in samples.iter().zip(light).zip(shown) {
                let both = tables[0][usize::from(v)];
                (*l, *s) = ((both >> 8) as u16, both as u8);
            }
        }
    }
}

/// Planes of light through a matrix.
fn mix(m: &[[f32; 3]; 3], planes: &[f32], light: &mut [u16]) {
    let apart = planes.len() / 3;
    let (reds, rest) = planes.split_at(apart);
    let (greens, blues) = rest.split_at(apart);
    for (row, out) in m.iter().zip(light.chunks_exact_mut(apart)) {
        for (((out, r), g), b) in out.iter_mut().zip(reds).zip(greens).zip(blues) {
            *out = counted(row[0] * r + row[1] * g + row[2] * b);
        }
    }
}

/// Averages two rows of planes in pairs of columns; the odd column at the shown end counts alone.
pub(super) fn halve_columns(above: &[u16], below: &[u16], width: usize, flip_x: bool, half: &mut Vec<u16>) {
    for (above, below) in above.chunks_exact(width).zip(below.chunks_exact(width)) {
        let mean = |i: usize| ((u32::from(above[i]) + u32::from(below[i]) + 1) >> 1) as u16;
        let first = usize::from(width % 2 == 1 && flip_x);
        if first == 1 {
            half.push(mean(0));
        }
        let pairs = above[first..].chunks_exact(2).zip(below[first..].chunks_exact(2));
        half.extend(
            pairs.map(|(a, b)| {
                ((u32::from(a[0]) + u32::from(a[1]) + u32::from(b[0]) + u32::from(b[1]) + 2) >> 2) as u16
            }),
        );
        if width % 2 == 1 && !flip_x {
            half.push(mean(width - 1));
        }
    }
}

/// Rows of planes halved, pairs counted from the shown beginning: an odd row at the shown end counts alone.
pub(super) fn halve(light: &[u16], (width, rows): (usize, usize), channels: usize, turned: Orientation) -> Vec<u16> {
    let stride = width * channels;
    let row = |i: usize| &light[i * stride..(i + 1) * stride];
    let mut half = Vec::with_capacity(width.div_ceil(2) * channels * rows.div_ceil(2));
    let first = usize::from(rows % 2 == 1 && turned.flip_y);
    if first == 1 {
        halve_columns(row(0), row(0), width, turned.flip_x, &mut half);
    }
    for i in (first..rows).step_by(2) {
        halve_columns(row(i), row((i + 1).min(rows - 1)), width, turned.flip_x, &mut half);
    }
    half
}
