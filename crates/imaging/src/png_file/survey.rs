//! What a PNG's list of chunks says without decoding the picture.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};

use crate::error::Fault;
use crate::notes::{Moment, clean};

/// What was found.
#[derive(Debug, Default)]
pub(super) struct Survey {
    /// Bytes of compressed picture.
    pub picture_bytes: u64,
    /// There is a profile.
    pub profile: bool,
    /// The packet of XMP.
    pub xmp: Option<Vec<u8>>,
    pub software: Option<String>,
    /// An EXIF block in the hexadecimal text that writers put there before eXIf was standard.
    pub exif: Option<Vec<u8>>,
    /// When the picture was last changed.
    pub moment: Option<Moment>,
}

/// Most bytes of a text, packed or not, that are looked at.
const MAX_TEXT: u64 = 4 << 20;

/// Steps from chunk to chunk: a file that is cut off is found out before a region of its upper part looks fine.
pub(super) fn survey(file: &mut File) -> Result<Survey, Fault> {
    let bytes = file.metadata().map_err(Fault::Read)?.len();
    let mut file = BufReader::with_capacity(64, file);
    let mut survey = Survey::default();
    let mut place = 8_u64;
    let cut = || Fault::Truncated("it ends before its last part (IEND)".into());
    loop {
        if place + 12 > bytes {
            return Err(cut());
        }
        let mut head = [0_u8; 8];
        file.seek(SeekFrom::Start(place)).map_err(Fault::Read)?;
        file.read_exact(&mut head)?;
        let length = u64::from(u32::from_be_bytes([head[0], head[1], head[2], head[3]]));
        if place + 12 + length > bytes {
            return Err(cut());
        }
        match &head[4..] {
            b"IEND" => return Ok(survey),
            b"IDAT" => survey.picture_bytes += length,
            b"iCCP" => survey.profile = true,
            b"iTXt" if survey.xmp.is_none() => survey.xmp = xmp(&text(&mut file, length)?),
            b"tEXt" | b"zTXt" => {
                let text = text(&mut file, length)?;
                survey.software = survey.software.take().or_else(|| software(&text));
                survey.exif = survey.exif.take().or_else(|| raw_profile(&text));
            }
            b"tIME" if length == 7 => survey.moment = moment(&text(&mut file, length)?),
            _ => {}
        }
        place += 12 + length;
    }
}

fn text(file: &mut BufReader<&mut File>, length: u64) -> Result<Vec<u8>, Fault> {
    let mut text = Vec::new();
    if length <= MAX_TEXT {
        file.take(length).read_to_end(&mut text).map_err(Fault::Read)?;
    }
    Ok(text)
}

/// PNG specification, 11.3.3.4: keyword, whether and how it is packed, language, translated keyword, text.
fn xmp(text: &[u8]) -> Option<Vec<u8>> {
    let rest = text.strip_prefix(b"XML:com.adobe.xmp\0")?;
    let (&packed, rest) = (rest.first()?, rest.get(2..)?);
    let mut parts = rest.splitn(3, |&b| b == 0);
    let body = parts.nth(2)?;
    Some(if packed == 0 { body.to_vec() } else { unpacked(body) })
}

/// What is damaged half way has said half.
fn unpacked(body: &[u8]) -> Vec<u8> {
    let mut text = Vec::new();
    let _ = flate2::read::ZlibDecoder::new(body).take(MAX_TEXT).read_to_end(&mut text);
    text
}

/// "Raw profile type exif" or "APP1": a line with a name, one with the number of bytes, then the bytes as hexadecimal
/// digits, beginning with "Exif" and two zeros. Common practice, no source.
fn raw_profile(text: &[u8]) -> Option<Vec<u8>> {
    let rest = text.strip_prefix(b"Raw profile type ")?;
    let rest = rest.strip_prefix(b"exif\0").or_else(|| rest.strip_prefix(b"APP1\0"))?;
    // Packed, its first byte is the method 0; plain, it is a line's end.
    let body = if rest.first() == Some(&0) { unpacked(&rest[1..]) } else { rest.to_vec() };
    let digits = body.split(|&b| b == b'\n').skip(3).flatten().filter_map(|&b| char::from(b).to_digit(16));
    let digits: Vec<u8> = digits.map(|d| d as u8).collect();
    let bytes: Vec<u8> = digits.chunks_exact(2).map(|d| d[0] << 4 | d[1]).collect();
    bytes.strip_prefix(b"Exif\0\0").map(<[u8]>::to_vec)
}

fn software(text: &[u8]) -> Option<String> {
    // Latin-1, whose bytes are the first 256 characters of Unicode.
    let latin: String = text.strip_prefix(b"Software\0")?.iter().map(|&b| char::from(b)).collect();
    clean(latin.as_bytes())
}

/// Year in two bytes, then month, day, hour, minute, second.
fn moment(bytes: &[u8]) -> Option<Moment> {
    let [y1, y2, month, day, hour, minute, second] = *<&[u8; 7]>::try_from(bytes).ok()?;
    let year = u16::from_be_bytes([y1, y2]);
    Moment::parse(&format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}"))
}
