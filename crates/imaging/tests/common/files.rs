//! Good files, made here with other people's encoders where there are some, to be spoilt or measured.

use std::io::Cursor;
use std::path::Path;

use imaging::{TiffWriter, srgb_profile};
use tiff::encoder::{Compression, DeflateLevel, TiffEncoder, colortype};

const WIDTH: u32 = 61;
const HEIGHT: u32 = 47;

/// Slopes with a little texture.
fn samples(channels: u32) -> Vec<u16> {
    let value = |i: u32| {
        let (pixel, channel) = (i / channels, i % channels);
        let (x, y) = (pixel % WIDTH, pixel / WIDTH);
        (x * 700 + y * 550 * (channel + 1) / 2 + (x * y * 31) % 900).min(65_535) as u16
    };
    (0..WIDTH * HEIGHT * channels).map(value).collect()
}

fn bytes(samples: &[u16]) -> Vec<u8> {
    samples.iter().map(|v| (v >> 8) as u8).collect()
}

/// One small good file of every kind that is read, with a name.
pub fn good_files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files = vec![("own.tif".to_owned(), own_tiff(folder))];
    let compressions = [
        ("plain", Compression::Uncompressed),
        ("lzw", Compression::Lzw),
        ("deflate", Compression::Deflate(DeflateLevel::Balanced)),
        ("packbits", Compression::Packbits),
    ];
    for (name, compression) in compressions {
        files.push((format!("{name}-16.tif"), tiff_by_crate(compression, true)));
        files.push((format!("{name}-8.tif"), tiff_by_crate(compression, false)));
    }
    files.push(("big.tif".into(), big_tiff()));
    for (name, colour, depth) in [
        ("rgb-16.png", png::ColorType::Rgb, png::BitDepth::Sixteen),
        ("rgba-8.png", png::ColorType::Rgba, png::BitDepth::Eight),
        ("grey-8.png", png::ColorType::Grayscale, png::BitDepth::Eight),
    ] {
        files.push((name.into(), png_file(colour, depth)));
    }
    for (name, colour, progressive) in [
        ("rgb.jpg", jpeg_encoder::ColorType::Rgb, false),
        ("progressive.jpg", jpeg_encoder::ColorType::Rgb, true),
        ("grey.jpg", jpeg_encoder::ColorType::Luma, false),
    ] {
        files.push((name.into(), jpeg_file(colour, progressive)));
    }
    files
}

fn own_tiff(folder: &Path) -> Vec<u8> {
    let path = folder.join("own.tif");
    let mut writer = TiffWriter::create(&path, WIDTH, HEIGHT, Some(6.35), Some(&srgb_profile())).unwrap();
    samples(3).chunks_exact(3 * WIDTH as usize).for_each(|row| writer.write_row(row).unwrap());
    writer.finish().unwrap();
    std::fs::read(&path).unwrap()
}

fn tiff_by_crate(compression: Compression, sixteen: bool) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut out).unwrap().with_compression(compression);
    let samples = samples(3);
    if sixteen {
        encoder.write_image::<colortype::RGB16>(WIDTH, HEIGHT, &samples).unwrap();
    } else {
        encoder.write_image::<colortype::RGB8>(WIDTH, HEIGHT, &bytes(&samples)).unwrap();
    }
    out.into_inner()
}

fn big_tiff() -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new_big(&mut out).unwrap();
    encoder.write_image::<colortype::Gray16>(WIDTH, HEIGHT, &samples(1)).unwrap();
    out.into_inner()
}

fn png_file(colour: png::ColorType, depth: png::BitDepth) -> Vec<u8> {
    let mut out = Vec::new();
    let mut info = png::Info::with_size(WIDTH, HEIGHT);
    (info.color_type, info.bit_depth) = (colour, depth);
    info.icc_profile = (colour == png::ColorType::Rgb).then(|| srgb_profile().into());
    let mut writer = png::Encoder::with_info(&mut out, info).unwrap().write_header().unwrap();
    let samples = samples(colour.samples() as u32);
    let data = match depth {
        png::BitDepth::Sixteen => samples.iter().flat_map(|v| v.to_be_bytes()).collect(),
        _ => bytes(&samples),
    };
    writer.write_image_data(&data).unwrap();
    writer.finish().unwrap();
    out
}

fn jpeg_file(colour: jpeg_encoder::ColorType, progressive: bool) -> Vec<u8> {
    let mut out = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut out, 90);
    encoder.set_progressive(progressive);
    encoder.add_icc_profile(&srgb_profile()).unwrap();
    let channels = if colour == jpeg_encoder::ColorType::Luma { 1 } else { 3 };
    encoder.encode(&bytes(&samples(channels)), WIDTH as u16, HEIGHT as u16, colour).unwrap();
    out
}
