//! What files say about themselves: orientation, resolution, origin, tone, by every means they have.

use std::path::Path;

use crate::absurd::{self, DATA_AT, LONG, SHORT, grey, png, text, tiff, with};
use crate::common::channels_of;
use imaging::{Fault, Info, ProfileKind, Remark, ResolutionUnit, Scan, ToneChoice};
use planes::{Channels, LumaWeights, ToneCurve};
use testkit::assert_close;

const XMP_6: &str = r#"<a tiff:Orientation="6" tiff:Make="Scanworks" xmp:CreateDate="2026-05-01T14:03:59+02:00"/>"#;

fn open(folder: &Path, name: &str, bytes: &[u8]) -> Scan {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    Scan::open(&path).unwrap_or_else(|e| panic!("{e}"))
}

fn info(folder: &Path, name: &str, bytes: &[u8]) -> Info {
    open(folder, name, bytes).info().clone()
}

fn codes(remarks: &[Remark]) -> Vec<&'static str> {
    remarks.iter().map(Remark::code).collect()
}

/// A 4 x 10 TIFF with further tags.
fn tiff_of(tags: &[absurd::Tag]) -> Vec<u8> {
    tiff(&tags.iter().cloned().fold(grey(4, 10, 1, 40), with), &[7; 40])
}

/// A 4 x 10 PNG with those chunks.
fn png_of(chunks: &[(&[u8; 4], &[u8])]) -> Vec<u8> {
    let data = absurd::deflated_zeros(5 * 10);
    png(4, 10, 8, 0, false, &[chunks, &[(b"IDAT", &data)]].concat())
}

/// A 16 x 24 JPEG with those application segments.
fn jpeg_of(segments: &[(u8, &[u8])]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut out, 90);
    segments.iter().for_each(|(number, data)| encoder.add_app_segment(*number, data.to_vec()).unwrap());
    encoder.encode(&[90; 16 * 24], 16, 24, jpeg_encoder::ColorType::Luma).unwrap();
    out
}

#[test]
fn an_xmp_packet_turns_the_picture_in_every_format() {
    let folder = tempfile::tempdir().unwrap();
    let itxt = [b"XML:com.adobe.xmp\0\0\0\0\0", XMP_6.as_bytes()].concat();
    let app1 = [b"http://ns.adobe.com/xap/1.0/\0", XMP_6.as_bytes()].concat();
    for (name, bytes, size) in [
        ("a.tif", tiff_of(&[text(700, XMP_6)]), (10, 4)),
        ("a.png", png_of(&[(b"iTXt", &itxt)]), (10, 4)),
        ("a.jpg", jpeg_of(&[(1, &app1)]), (24, 16)),
    ] {
        let info = info(folder.path(), name, &bytes);
        assert_eq!(((info.width, info.height), info.orientation.tag()), (size, 6), "{name}");
        assert_eq!(info.maker.as_deref(), Some("Scanworks"), "{name}");
        assert_eq!(info.moment.unwrap().to_string(), "2026-05-01 14:03:59", "{name}");
        assert!(!codes(&info.remarks).contains(&"orientation-differs"), "{name}");
    }
}

#[test]
fn the_tag_goes_before_a_packet_that_contradicts_it_and_a_remark_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let exif = [b"Exif\0\0", &tiff(&[(274, SHORT, vec![3])], &[])[..]].concat();
    let app1 = [b"http://ns.adobe.com/xap/1.0/\0", XMP_6.as_bytes()].concat();
    for (name, bytes) in
        [("b.tif", tiff_of(&[(274, SHORT, vec![3]), text(700, XMP_6)])), ("b.jpg", jpeg_of(&[(1, &exif), (1, &app1)]))]
    {
        let info = info(folder.path(), name, &bytes);
        assert_eq!(info.orientation.tag(), 3, "{name}");
        assert!(info.remarks.contains(&Remark::OrientationDiffers { tag: 3, xmp: 6 }), "{name} {:?}", info.remarks);
    }
}

#[test]
fn a_png_holds_its_exif_as_a_chunk_or_as_digits() {
    let folder = tempfile::tempdir().unwrap();
    let block = tiff(&[(274, SHORT, vec![8]), text(272, "Flatbed 12")], &[]);
    let digits: String = [b"Exif\0\0", &block[..]].concat().iter().map(|b| format!("{b:02x}")).collect();
    let raw = format!("Raw profile type exif\0\nexif\n{:8}\n{digits}\n", block.len() + 6);
    for chunk in [(b"eXIf", &block[..]), (b"tEXt", raw.as_bytes())] {
        let info = info(folder.path(), "c.png", &png_of(&[chunk]));
        assert_eq!((info.orientation.tag(), info.model.as_deref()), (8, Some("Flatbed 12")), "{chunk:?}");
    }
    let when = [0x07, 0xea, 5, 1, 14, 3, 59];
    let info = info(folder.path(), "d.png", &png_of(&[(b"tIME", &when), (b"tEXt", b"Software\0Drawer 1")]));
    assert_eq!(info.moment.unwrap().to_string(), "2026-05-01 14:03:59");
    assert_eq!(info.software.as_deref(), Some("Drawer 1"));
}

#[test]
fn the_header_names_the_scanner_the_program_and_the_date() {
    let folder = tempfile::tempdir().unwrap();
    let tags =
        [text(271, "Scanworks"), text(272, "Flatbed 12 "), text(305, "Drawer"), text(306, "2026:05:01 14:03:59")];
    let said = info(folder.path(), "e.tif", &tiff_of(&tags));
    assert_eq!((said.maker.as_deref(), said.model.as_deref()), (Some("Scanworks"), Some("Flatbed 12")));
    assert_eq!(said.software.as_deref(), Some("Drawer"));
    assert_eq!(said.moment.unwrap().to_string(), "2026-05-01 14:03:59");
    let silent = info(folder.path(), "f.tif", &tiff_of(&[]));
    assert_eq!((silent.maker, silent.moment, silent.resolution), (None, None, None));
}

#[test]
fn the_resolution_is_given_as_stated_and_turned_with_the_picture() {
    let folder = tempfile::tempdir().unwrap();
    // pHYs, PNG 11.3.4.3: pixels to the metre across and down, unit 1.
    let stated = [&157_480_u32.to_be_bytes()[..], &78_740_u32.to_be_bytes(), &[1]].concat();
    let turned = tiff(&[(274, SHORT, vec![6])], &[]);
    let info = info(folder.path(), "g.png", &png_of(&[(b"pHYs", &stated), (b"eXIf", &turned)]));
    let resolution = info.resolution.unwrap();
    assert_eq!(resolution.unit, ResolutionUnit::Metre);
    assert_close!(resolution.across, 78_740.0, relative = 1e-12);
    assert_close!(resolution.down, 157_480.0, relative = 1e-12);
    assert_close!(info.pitch_um.unwrap(), 1e6 / 78_740.0, relative = 1e-12);
    assert!(codes(&info.remarks).contains(&"pitch-differs"));
}

#[test]
fn code_points_state_tone_and_primaries() {
    let folder = tempfile::tempdir().unwrap();
    let ramp: Vec<u8> = (0..256).flat_map(|i| [i as u8; 3]).collect();
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
    std::io::Write::write_all(&mut encoder, &[&[0], &ramp[..]].concat()).unwrap();
    let data = encoder.finish().unwrap();
    let read = |points: [u8; 4]| {
        let file = png(256, 1, 8, 2, false, &[(b"cICP", &points), (b"IDAT", &data)]);
        let mut scan = open(folder.path(), "h.png", &file);
        scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap()
    };
    // ITU-T H.273: primaries, transfer function, matrix (0: RGB), full range.
    let linear = read([1, 8, 0, 1]);
    assert_eq!(linear.tone.label(), "linear");
    let Channels::Rgb { luma, .. } = linear.picture.channels() else { panic!("grey") };
    assert_eq!(*luma, LumaWeights::SRGB);
    let wide = read([9, 1, 0, 1]);
    assert_eq!(wide.tone.label(), "bt709");
    let Channels::Rgb { planes, luma: LumaWeights(luma) } = wide.picture.channels() else { panic!("grey") };
    // Rec. ITU-R BT.2020-2, table 4.
    luma.iter().zip([0.2627, 0.678, 0.0593]).for_each(|(f, e)| assert_close!(f64::from(*f), e, absolute = 6e-5));
    for i in 0..256 {
        // Rec. ITU-R BT.709-6, 1.2, from light to sample; its two pieces meet to 1e-4.
        let light = f64::from(planes[1].at(i, 0));
        let sample = if light < 0.018 { 4.5 * light } else { 1.099 * light.powf(0.45) - 0.099 };
        assert_close!(sample, i as f64 / 255.0, absolute = 2e-4);
    }
    for points in [[1, 16, 0, 1], [22, 13, 0, 1], [1, 13, 0, 0]] {
        let reading = read(points);
        assert_eq!(codes(&reading.remarks), ["code-points-unknown", "srgb-assumed"], "{points:?}");
    }
}

#[test]
fn chromaticities_give_the_shares_of_luminance() {
    let folder = tempfile::tempdir().unwrap();
    // White, red, green, blue in 100 000ths: those of Rec. ITU-R BT.2020.
    let xy = [31_270_u32, 32_900, 70_800, 29_200, 17_000, 79_700, 13_100, 4_600];
    let chrm: Vec<u8> = xy.iter().flat_map(|v| v.to_be_bytes()).collect();
    let data = absurd::deflated_zeros(7);
    let file = png(2, 1, 8, 2, false, &[(b"gAMA", &100_000_u32.to_be_bytes()), (b"cHRM", &chrm), (b"IDAT", &data)]);
    let mut scan = open(folder.path(), "i.png", &file);
    let reading = scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap();
    let Channels::Rgb { luma: LumaWeights(luma), .. } = reading.picture.channels() else { panic!("grey") };
    luma.iter().zip([0.2627, 0.678, 0.0593]).for_each(|(f, e)| assert_close!(f64::from(*f), e, absolute = 6e-5));
}

#[test]
fn a_broken_profile_is_remarked_and_srgb_is_taken() {
    let folder = tempfile::tempdir().unwrap();
    let packed = [&b"x\0\0"[..], &absurd::deflated_zeros(200)].concat();
    let not_packed = [&b"x\0\0"[..], &[0x5a; 60]].concat();
    for (name, bytes) in [
        ("j.tif", tiff_of(&[text(34675, "this is no profile")])),
        ("j.png", png_of(&[(b"iCCP", &packed)])),
        ("k.png", png_of(&[(b"iCCP", &not_packed)])),
    ] {
        let mut scan = open(folder.path(), name, &bytes);
        assert_eq!(scan.info().profile.as_ref().map(|p| p.kind), Some(ProfileKind::Unusable), "{name}");
        let reading = scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap();
        assert_eq!(
            (reading.tone.label().as_str(), codes(&reading.remarks)),
            ("srgb", vec!["profile-unusable"]),
            "{name}"
        );
    }
}

#[test]
fn a_tiff_without_its_tags_has_the_defaults_of_the_standard() {
    let folder = tempfile::tempdir().unwrap();
    // TIFF 6.0: one bit, uncompressed, one sample, one strip; here also an offset alone for a byte count.
    let tags = [(256, LONG, vec![8]), (257, LONG, vec![2]), (262, SHORT, vec![1]), (273, LONG, vec![DATA_AT])];
    for rows in [None, Some(u32::MAX)] {
        let all = tags.iter().cloned().chain(rows.map(|r| (278, LONG, vec![r]))).collect::<Vec<_>>();
        let mut scan = open(folder.path(), "l.tif", &tiff(&all, &[0b1010_0000, 0b0000_0001]));
        assert_eq!(codes(&scan.info().remarks), ["few-bits"]);
        let picture = scan.read_encoded(scan.whole()).unwrap().picture;
        let expected = [1., 0., 1., 0., 0., 0., 0., 0., 0., 0., 0., 0., 0., 0., 0., 1.];
        assert_eq!(channels_of(&picture)[0].samples(), expected);
        // FillOrder 2: the bits of each byte from the low end.
        let reversed = all.iter().cloned().chain([(266, SHORT, vec![2])]).collect::<Vec<_>>();
        let file = tiff(&with(reversed, (262, SHORT, vec![1])), &[0b0000_0101, 0b1000_0000]);
        let mut scan = open(folder.path(), "m.tif", &file);
        assert_eq!(channels_of(&scan.read_encoded(scan.whole()).unwrap().picture)[0].samples(), expected);
    }
}

#[test]
fn floating_point_is_light_and_what_lies_outside_is_clipped_and_counted() {
    let folder = tempfile::tempdir().unwrap();
    let values = [-0.5_f32, 0.0, 0.25, 1.0, 2.0, f32::NAN];
    let data: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
    let tags = with(with(grey(6, 1, 1, 24), (258, SHORT, vec![32])), (339, SHORT, vec![3]));
    let mut scan = open(folder.path(), "n.tif", &tiff(&tags, &data));
    assert!(scan.info().floating && scan.info().bits == 32);
    let reading = scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap();
    assert_eq!(channels_of(&reading.picture)[0].samples(), [0.0, 0.0, 0.25, 1.0, 1.0, 0.0]);
    assert_eq!(reading.remarks, [Remark::LinearAssumed, Remark::OutsideRange { samples: 3 }]);
    let reading = scan.read_linear(scan.whole(), ToneChoice::Curve(ToneCurve::Srgb)).unwrap();
    // IEC 61966-2-1.
    assert_close!(f64::from(channels_of(&reading.picture)[0].at(2, 0)), ToneCurve::Srgb.decode(0.25), absolute = 1e-7);
}

#[test]
fn sensor_values_lie_between_their_levels() {
    let folder = tempfile::tempdir().unwrap();
    let levels = |black, white| {
        let tags = [(262, SHORT, vec![34_892]), (50_714, SHORT, vec![black]), (50_717, SHORT, vec![white])];
        tiff(&tags.iter().cloned().fold(grey(4, 1, 1, 4), with), &[10, 60, 110, 210])
    };
    let mut scan = open(folder.path(), "o.dng", &levels(10, 210));
    let reading = scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap();
    let samples = channels_of(&reading.picture)[0].samples();
    for (found, expected) in samples.iter().zip([0.0, 0.25, 0.5, 1.0]) {
        assert_close!(f64::from(*found), expected, absolute = 1e-7);
    }
    assert_eq!(codes(&reading.remarks), ["sensor-colours", "tone-declared"]);
    let path = folder.path().join("p.dng");
    std::fs::write(&path, levels(210, 10)).unwrap();
    assert!(matches!(Scan::open(&path).unwrap_err().fault, Fault::Damaged(why) if why.contains("black level (210)")));
}
