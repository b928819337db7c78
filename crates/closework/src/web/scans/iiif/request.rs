//! The path of an image request, read and checked: IIIF Image API 3.0, section 4. Pure.

use imaging::pyramid::Pyramid;
use planes::Region;

/// Longest side of a picture that is answered. A tile that is made anew needs memory and time in proportion.
pub(super) const MAX_SIDE: u32 = 2048;

/// What is shown of the colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quality {
    /// As the scan is: in colour, or grey.
    Default,
    /// Luminance of linear light.
    Gray,
    /// One channel of the viewing tiles (sRGB) as grey: 0 red, 1 green, 2 blue.
    Channel(usize),
}

impl Quality {
    const NAMES: [(&'static str, Self); 6] = [
        ("default", Self::Default),
        ("color", Self::Default),
        ("gray", Self::Gray),
        ("red", Self::Channel(0)),
        ("green", Self::Channel(1)),
        ("blue", Self::Channel(2)),
    ];

    fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, quality)| *quality == self).map_or("default", |(name, _)| name)
    }
}

/// Why a request is not answered; the sentence goes to the client.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Refusal {
    /// 400: it is written wrongly, or asks for what no picture can be.
    Wrong(String),
    /// 501: it is right by the standard and not offered here.
    NotOffered(String),
}

use Refusal::{NotOffered, Wrong};

/// Level, column and row of a stored tile.
type Tile = (u32, u32, u32);

/// A checked request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Request {
    /// In pixels of the whole picture.
    pub region: Region,
    /// Columns and rows of the answer; never more than the region's.
    pub size: (u32, u32),
    /// The colours.
    pub quality: Quality,
    /// The tile whose stored bytes are the answer.
    pub tile: Option<Tile>,
}

impl Request {
    /// Reads `{region}/{size}/{rotation}/{quality}.{format}`.
    pub(super) fn read(p: &Pyramid, [region, size, rotation, file]: [&str; 4]) -> Result<Self, Refusal> {
        let region = read_region(p, region)?;
        let wanted = Size::read(size)?;
        check_rotation(rotation)?;
        let quality = read_quality(file)?;
        let size = wanted.of(region)?;
        let tile = (quality == Quality::Default).then(|| stored_tile(p, region, wanted, size)).flatten();
        // A tile's sides are rounded up, whichever of them was asked for.
        let size = tile.map_or(size, |(_, tile_size)| tile_size);
        Ok(Self { region, size, quality, tile: tile.map(|(place, _)| place) })
    }

    /// The path in its canonical form (section 4.7): one address for one answer.
    pub(super) fn canonical(&self, p: &Pyramid) -> String {
        let Region { x, y, width, height } = self.region;
        let whole = (x, y, width, height) == (0, 0, p.width, p.height);
        let region = if whole { "full".into() } else { format!("{x},{y},{width},{height}") };
        let largest = Size::Max.of(self.region) == Ok(self.size);
        let size = if largest { "max".into() } else { format!("{},{}", self.size.0, self.size.1) };
        format!("{region}/{size}/0/{}.jpg", self.quality.name())
    }
}

/// Whole numbers without a sign.
fn number(text: &str) -> Option<u32> {
    (!text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())).then(|| text.parse().ok()).flatten()
}

/// A decimal number without a sign or an exponent.
fn decimal(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.') && text.bytes().any(|b| b.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

/// Section 4.1.
fn read_region(p: &Pyramid, text: &str) -> Result<Region, Refusal> {
    let wrong =
        || Wrong(format!("The region “{text}” is none: write full, square, or left,top,width,height in pixels."));
    match text {
        "full" => return Ok(Region { x: 0, y: 0, width: p.width, height: p.height }),
        "square" => {
            let side = p.width.min(p.height);
            return Ok(Region { x: (p.width - side) / 2, y: (p.height - side) / 2, width: side, height: side });
        }
        _ => {}
    }
    if let Some(shares) = text.strip_prefix("pct:") {
        let shares: Option<Vec<f64>> = shares.split(',').map(decimal).collect();
        let four = shares.is_some_and(|s| s.len() == 4);
        return Err(if four {
            NotOffered("Regions in per cent are not offered; write pixels.".into())
        } else {
            wrong()
        });
    }
    let numbers: Option<Vec<u32>> = text.split(',').map(number).collect();
    let Some(&[x, y, width, height]) = numbers.as_deref() else { return Err(wrong()) };
    if width == 0 || height == 0 {
        return Err(Wrong(format!("The region “{text}” has no pixels.")));
    }
    if x >= p.width || y >= p.height {
        let why = format!("The region “{text}” lies outside the picture, which is {} × {} pixels.", p.width, p.height);
        return Err(Wrong(why));
    }
    Ok(Region { x, y, width: width.min(p.width - x), height: height.min(p.height - y) })
}

/// Section 4.2, without scaling up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Size {
    Max,
    Width(u32),
    Height(u32),
    Both(u32, u32),
}

impl Size {
    fn read(text: &str) -> Result<Self, Refusal> {
        let wrong = || {
            Wrong(format!(
                "The size “{text}” is none: write max, or width,height in pixels; one of them may be absent."
            ))
        };
        let plain = text.strip_prefix('^').unwrap_or(text);
        let size = Self::read_plain(plain).ok_or_else(wrong)?;
        if plain != text {
            return Err(NotOffered("Scaling up is not offered: it would add nothing that is in the scan.".into()));
        }
        size.ok_or_else(|| {
            NotOffered("Sizes in per cent or within a frame are not offered; write width,height.".into())
        })
    }

    /// The inner `None` is a size by the standard that is not offered.
    fn read_plain(text: &str) -> Option<Option<Self>> {
        if text == "max" {
            return Some(Some(Self::Max));
        }
        if let Some(share) = text.strip_prefix("pct:") {
            return decimal(share).map(|_| None);
        }
        let within = text.strip_prefix('!');
        let (width, height) = within.unwrap_or(text).split_once(',')?;
        let both = (number(width), number(height));
        match both {
            (Some(_), Some(_)) if within.is_some() => Some(None),
            (Some(w), Some(h)) => Some(Some(Self::Both(w, h))),
            (Some(w), None) if height.is_empty() && within.is_none() => Some(Some(Self::Width(w))),
            (None, Some(h)) if width.is_empty() && within.is_none() => Some(Some(Self::Height(h))),
            _ => None,
        }
    }

    /// Columns and rows of a region at this size.
    fn of(self, region: Region) -> Result<(u32, u32), Refusal> {
        let (rw, rh) = (region.width, region.height);
        // The other side keeps the shape, to the nearest pixel, and is never nothing.
        let beside = |side: u32, of: u32, other: u32| {
            let (side, of, other) = (u64::from(side), u64::from(of), u64::from(other));
            u32::try_from((2 * side * other + of) / (2 * of)).unwrap_or(u32::MAX).max(1)
        };
        let size = match self {
            Self::Max if rw.max(rh) <= MAX_SIDE => (rw, rh),
            Self::Max if rw >= rh => (MAX_SIDE, beside(MAX_SIDE, rw, rh)),
            Self::Max => (beside(MAX_SIDE, rh, rw), MAX_SIDE),
            Self::Width(w) => (w, beside(w, rw, rh)),
            Self::Height(h) => (beside(h, rh, rw), h),
            Self::Both(w, h) => (w, h),
        };
        let (w, h) = size;
        let given = match self {
            Self::Width(w) | Self::Height(w) => w.min(1),
            _ => w.min(h).min(1),
        };
        if given == 0 {
            return Err(Wrong("A picture of no pixels cannot be made.".into()));
        }
        if w > rw || h > rh {
            return Err(Wrong(format!(
                "{w} × {h} pixels are more than the region's {rw} × {rh}; nothing is scaled up."
            )));
        }
        if w.max(h) > MAX_SIDE {
            return Err(Wrong(format!("{w} × {h} pixels are too many: at most {MAX_SIDE} a side are answered.")));
        }
        Ok(size)
    }
}

/// Section 4.3: 0 alone.
fn check_rotation(text: &str) -> Result<(), Refusal> {
    let (mirrored, angle) = text.strip_prefix('!').map_or((false, text), |rest| (true, rest));
    match decimal(angle) {
        Some(angle) if (0.0..=360.0).contains(&angle) => {
            let as_is = angle == 0.0 && !mirrored;
            if as_is { Ok(()) } else { Err(NotOffered("Turning and mirroring are not offered; write 0.".into())) }
        }
        _ => Err(Wrong(format!("The rotation “{text}” is none: write 0."))),
    }
}

/// Sections 4.4 and 4.5; what is unknown there is a wrong request, not one that is not offered.
fn read_quality(file: &str) -> Result<Quality, Refusal> {
    let Some((quality, format)) = file.split_once('.') else {
        return Err(Wrong(format!("“{file}” is no quality with a format: write default.jpg.")));
    };
    if format != "jpg" {
        return Err(Wrong(format!("The format “{format}” is not offered: write jpg.")));
    }
    let found = Quality::NAMES.iter().find(|(name, _)| *name == quality);
    let names = || Quality::NAMES.map(|(name, _)| name).join(", ");
    found
        .map(|(_, q)| *q)
        .ok_or_else(|| Wrong(format!("The quality “{quality}” is not offered: there are {}.", names())))
}

/// The tile that covers exactly this region at this size, with its size.
fn stored_tile(p: &Pyramid, region: Region, wanted: Size, size: (u32, u32)) -> Option<(Tile, (u32, u32))> {
    (0..p.levels).find_map(|level| {
        let scale = 1_u32.checked_shl(level)?;
        let span = p.tile.checked_mul(scale)?;
        let aligned = |start: u32, length: u32, end: u32| {
            start.is_multiple_of(span) && length == span.min(end.saturating_sub(start))
        };
        let fits = aligned(region.x, region.width, p.width) && aligned(region.y, region.height, p.height);
        let tile_size = (region.width.div_ceil(scale), region.height.div_ceil(scale));
        let same = match wanted {
            Size::Width(w) => w == tile_size.0,
            Size::Height(h) => h == tile_size.1,
            Size::Max | Size::Both(..) => size == tile_size,
        };
        (fits && same).then_some(((level, region.x / span, region.y / span), tile_size))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1200 x 900 in tiles of 512: 1200 x 900, 600 x 450, 300 x 225.
    fn picture() -> Pyramid {
        Pyramid { width: 1200, height: 900, tile: 512, levels: 3 }
    }

    fn read(region: &str, size: &str) -> Result<Request, Refusal> {
        Request::read(&picture(), [region, size, "0", "default.jpg"])
    }

    fn region(text: &str) -> [u32; 4] {
        let Region { x, y, width, height } = read(text, "max").expect(text).region;
        [x, y, width, height]
    }

    fn size(text: &str) -> (u32, u32) {
        read("0,0,600,300", text).expect(text).size
    }

    fn is_wrong(result: Result<Request, Refusal>) -> bool {
        matches!(result, Err(Refusal::Wrong(_)))
    }

    fn is_not_offered(result: Result<Request, Refusal>) -> bool {
        matches!(result, Err(Refusal::NotOffered(_)))
    }

    // The sections are those of the IIIF Image API 3.0, from memory.

    #[test]
    fn regions_by_section_4_1() {
        assert_eq!(region("full"), [0, 0, 1200, 900]);
        assert_eq!(region("square"), [150, 0, 900, 900], "as large as can be, in the middle");
        assert_eq!(region("125,15,120,140"), [125, 15, 120, 140]);
        assert_eq!(region("1100,800,500,500"), [1100, 800, 100, 100], "what reaches beyond the picture is cut off");
        for wrong in ["0,0,0,5", "0,0,5,0", "1200,0,5,5", "0,900,5,5", "1,2,3", "1,2,3,4,5", "-1,0,5,5", "1.5,0,5,5"] {
            assert!(is_wrong(read(wrong, "max")), "{wrong}");
        }
        for wrong in ["", "FULL", "a,b,c,d", "+1,0,5,5", "pct:", "pct:1,2,3", "pct:a,2,3,4", "0,0,99999999999,5"] {
            assert!(is_wrong(read(wrong, "max")), "{wrong}");
        }
        assert!(is_not_offered(read("pct:10,10,50,50.5", "max")));
    }

    #[test]
    fn sizes_by_section_4_2() {
        assert_eq!(size("max"), (600, 300));
        assert_eq!(size("300,"), (300, 150));
        assert_eq!(size(",100"), (200, 100));
        assert_eq!(size("60,90"), (60, 90), "the shape need not be kept");
        assert_eq!(size("1,"), (1, 1), "half a pixel high is one");
        for wrong in ["0,", ",0", "0,5", "601,", ",301", "600,301", "", ",", "a,", "max,", "5", "-5,", "full", "1e2,"] {
            assert!(is_wrong(read("0,0,600,300", wrong)), "{wrong}");
        }
        for wrong in ["!5,", "!,5", "!", "^", "^!5,", "pct:", "pct:x", "^^max"] {
            assert!(is_wrong(read("0,0,600,300", wrong)), "{wrong}");
        }
        for other in ["^max", "^700,", "^,700", "^700,700", "^!700,700", "!60,60", "pct:50", "^pct:120"] {
            assert!(is_not_offered(read("0,0,600,300", other)), "{other}");
        }
    }

    #[test]
    fn max_stays_within_the_limit_and_more_is_wrong_by_section_4_2() {
        let large = Pyramid { width: 8192, height: 4096, tile: 512, levels: 5 };
        let read = |size: &str| Request::read(&large, ["full", size, "0", "default.jpg"]);
        assert_eq!(read("max").expect("max").size, (2048, 1024));
        assert!(is_wrong(read("2049,")) && is_wrong(read("4096,2048")));
        assert_eq!(read("2048,").expect("limit").size, (2048, 1024));
    }

    #[test]
    fn rotation_quality_and_format_by_sections_4_3_to_4_5() {
        let read = |rotation, file| Request::read(&picture(), ["full", "max", rotation, file]);
        for good in ["0", "0.0"] {
            assert!(read(good, "default.jpg").is_ok(), "{good}");
        }
        for other in ["90", "22.5", "!0", "!90", "360"] {
            assert!(is_not_offered(read(other, "default.jpg")), "{other}");
        }
        for wrong in ["361", "-90", "", "!", "ninety", ".", "nan", "1e1"] {
            assert!(is_wrong(read(wrong, "default.jpg")), "{wrong}");
        }
        for (file, quality) in [("color.jpg", Quality::Default), ("gray.jpg", Quality::Gray)] {
            assert_eq!(read("0", file).expect(file).quality, quality);
        }
        assert_eq!(read("0", "blue.jpg").expect("blue").quality, Quality::Channel(2));
        for wrong in ["bitonal.jpg", "default.png", "default", "default.", ".jpg", "Default.jpg", "default.jpg.jpg"] {
            assert!(is_wrong(read("0", wrong)), "{wrong}");
        }
    }

    #[test]
    fn one_answer_has_one_canonical_address_by_section_4_7() {
        let canonical = |parts| Request::read(&picture(), parts).expect("read").canonical(&picture());
        assert_eq!(canonical(["0,0,1200,900", "1200,900", "0.0", "color.jpg"]), "full/max/0/default.jpg");
        assert_eq!(canonical(["full", "600,", "0", "gray.jpg"]), "full/600,450/0/gray.jpg");
        assert_eq!(canonical(["1100,800,500,500", ",50", "0", "red.jpg"]), "1100,800,100,100/50,50/0/red.jpg");
    }

    #[test]
    fn every_tile_is_known_by_its_region_and_no_other_region_is() {
        let p = picture();
        let mut found = 0;
        for level in 0..p.levels {
            let ((columns, rows), (width, height)) = (p.grid(level).expect("grid"), p.level_size(level).expect("size"));
            for (column, row) in (0..rows).flat_map(|r| (0..columns).map(move |c| (c, r))) {
                let span = p.tile << level;
                let (x, y) = (column * span, row * span);
                // Further reading, “tile region parameter calculation”: scaled sizes are rounded up.
                let side = |length: u32, number: u32| p.tile.min(length - number * p.tile);
                let (w, h) = (side(width, column), side(height, row));
                let at = format!("{x},{y},{},{}", span.min(p.width - x), span.min(p.height - y));
                for size in [format!("{w},{h}"), format!("{w},"), format!(",{h}")] {
                    let request = read(&at, &size).expect("a tile");
                    assert_eq!((request.tile, request.size), (Some((level, column, row)), (w, h)), "{at}/{size}");
                }
                assert_eq!(read(&at, &format!("{w},{}", h - 1)).expect("near").tile, None);
                found += 1;
            }
        }
        assert_eq!(found, 3 * 2 + 2 + 1);
        assert_eq!(read("1,0,512,512", "512,512").expect("beside").tile, None);
        assert_eq!(Request::read(&p, ["0,0,512,512", "max", "0", "gray.jpg"]).expect("grey").tile, None);
    }
}
