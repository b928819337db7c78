//! In which writing a table is, and its text.

use std::io::{self, BufReader, Read, Seek, SeekFrom};

use encoding_rs::{CoderResult, Decoder, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::PaperError;

/// How letters were written as bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with a byte order mark or without.
    Utf8,
    /// UTF-16 behind its mark, low byte first.
    Utf16Le,
    /// UTF-16 behind its mark, high byte first.
    Utf16Be,
    /// Windows-1252: bytes that are not UTF-8, behind no mark. A guess, and said as one.
    Windows1252,
}

/// Bytes that are looked at in one go.
const CHUNK: usize = 64 * 1024;

impl Encoding {
    /// Looks through the file. What is no text is refused.
    pub(super) fn find(file: &mut (impl Read + Seek)) -> Result<Self, PaperError> {
        file.seek(SeekFrom::Start(0))?;
        let mut start = [0; 8];
        let known = fill(file, &mut start)?;
        file.seek(SeekFrom::Start(0))?;
        match &start[..known] {
            [] => Err(PaperError::Empty),
            [b'P', b'K', 3, 4, ..] | [0xd0, 0xcf, 0x11, 0xe0, ..] => Err(PaperError::Spreadsheet),
            [0xff, 0xfe, ..] => checked_utf16(file, Self::Utf16Le),
            [0xfe, 0xff, ..] => checked_utf16(file, Self::Utf16Be),
            _ => one_byte_or_utf8(file),
        }
    }

    /// The text as UTF-8, from the beginning of the file; the byte order mark is gone.
    pub(super) fn text<R: Read + Seek>(self, file: R) -> io::Result<Text<R>> {
        let encoding = match self {
            Self::Utf8 => UTF_8,
            Self::Utf16Le => UTF_16LE,
            Self::Utf16Be => UTF_16BE,
            Self::Windows1252 => WINDOWS_1252,
        };
        let mut file = BufReader::with_capacity(CHUNK, file);
        file.seek(SeekFrom::Start(0))?;
        Ok(Text { file, decoder: encoding.new_decoder_with_bom_removal(), ready: Vec::new(), taken: 0, ended: false })
    }

    /// What to say of it; nothing of what is certain.
    pub fn remark(self) -> Option<&'static str> {
        (self == Self::Windows1252).then_some(
            "The table is not UTF-8 and was read as Windows-1252: see that letters such as ä or é are right, or save it as UTF-8.",
        )
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "UTF-8",
            Self::Utf16Le | Self::Utf16Be => "UTF-16",
            Self::Windows1252 => "Windows-1252",
        }
    }
}

fn fill(file: &mut impl Read, buffer: &mut [u8]) -> io::Result<usize> {
    let mut known = 0;
    while known < buffer.len() {
        match file.read(&mut buffer[known..]) {
            Ok(0) => break,
            Ok(more) => known += more,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(known)
}

/// UTF-16 that holds broken pairs would be read with letters lost.
fn checked_utf16(file: &mut (impl Read + Seek), encoding: Encoding) -> Result<Encoding, PaperError> {
    let mut text = encoding.text(file)?;
    let mut piece = [0; CHUNK];
    loop {
        match text.read(&mut piece) {
            Ok(0) => return Ok(encoding),
            Ok(_) => {}
            Err(error) if error.kind() == io::ErrorKind::InvalidData => {
                return Err(PaperError::NotText("its UTF-16 is broken"));
            }
            Err(error) => return Err(error.into()),
        }
    }
}

/// UTF-8 where every byte fits it; Windows-1252 otherwise. A zero byte is in neither.
fn one_byte_or_utf8(file: &mut impl Read) -> Result<Encoding, PaperError> {
    let mut piece = vec![0; CHUNK];
    // The beginning of a letter that the last piece was cut in.
    let mut kept = 0;
    let mut utf8 = true;
    loop {
        let more = fill(file, &mut piece[kept..])?;
        let known = kept + more;
        if piece[kept..known].contains(&0) {
            return Err(PaperError::NotText("it holds zero bytes: UTF-16 without its mark, or no table at all"));
        }
        if utf8 {
            match std::str::from_utf8(&piece[..known]) {
                Ok(_) => kept = 0,
                Err(error) if error.error_len().is_none() && more > 0 => {
                    let whole = error.valid_up_to();
                    piece.copy_within(whole..known, 0);
                    kept = known - whole;
                }
                Err(_) => (utf8, kept) = (false, 0),
            }
        }
        if more == 0 {
            return Ok(if utf8 { Encoding::Utf8 } else { Encoding::Windows1252 });
        }
    }
}

/// A file's text as UTF-8, piece by piece. Broken letters end it with an error.
pub(super) struct Text<R> {
    file: BufReader<R>,
    decoder: Decoder,
    ready: Vec<u8>,
    taken: usize,
    ended: bool,
}

impl<R: Read> Text<R> {
    fn decode_more(&mut self) -> io::Result<()> {
        use io::BufRead;
        self.ready.clear();
        self.taken = 0;
        while self.ready.is_empty() && !self.ended {
            let source = self.file.fill_buf()?;
            let last = source.is_empty();
            let room = self.decoder.max_utf8_buffer_length(source.len()).unwrap_or(4 * CHUNK);
            self.ready.resize(room, 0);
            let (result, read, written, broken) = self.decoder.decode_to_utf8(source, &mut self.ready, last);
            self.ready.truncate(written);
            self.file.consume(read);
            if broken {
                return Err(io::Error::new(io::ErrorKind::InvalidData, "letters are broken"));
            }
            self.ended = last && result == CoderResult::InputEmpty;
        }
        Ok(())
    }
}

impl<R: Read> Read for Text<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.taken == self.ready.len() {
            self.decode_more()?;
        }
        let count = buffer.len().min(self.ready.len() - self.taken);
        buffer[..count].copy_from_slice(&self.ready[self.taken..self.taken + count]);
        self.taken += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn read(bytes: &[u8]) -> Result<(Encoding, String), PaperError> {
        let mut file = Cursor::new(bytes.to_vec());
        let encoding = Encoding::find(&mut file)?;
        let mut text = String::new();
        encoding.text(&mut file)?.read_to_string(&mut text)?;
        Ok((encoding, text))
    }

    fn utf16(text: &str, order: fn(u16) -> [u8; 2]) -> Vec<u8> {
        "\u{feff}".encode_utf16().chain(text.encode_utf16()).flat_map(order).collect()
    }

    #[test]
    fn every_writing_is_read() {
        let text = "frame,note\n1,Käfer 甲虫 🪲\n";
        for (bytes, encoding) in [
            (text.as_bytes().to_vec(), Encoding::Utf8),
            ([b"\xef\xbb\xbf", text.as_bytes()].concat(), Encoding::Utf8),
            (utf16(text, u16::to_le_bytes), Encoding::Utf16Le),
            (utf16(text, u16::to_be_bytes), Encoding::Utf16Be),
        ] {
            let (found, read) = read(&bytes).unwrap();
            assert_eq!((found, read.as_str()), (encoding, text));
        }
        // Windows-1252, code chart of the WHATWG Encoding Standard: E4 is ä, 80 is €, 96 an en dash.
        let (found, read) = read(b"frame,note\n1,K\xe4fer \x80 \x96\n").unwrap();
        assert_eq!((found, read.as_str()), (Encoding::Windows1252, "frame,note\n1,Käfer € –\n"));
        assert!(found.remark().is_some());
    }

    #[test]
    fn letters_cut_between_pieces_are_whole() {
        for shift in 0..4 {
            let text = "x".repeat(CHUNK - shift) + "甲虫🪲" + &"é".repeat(CHUNK);
            assert_eq!(read(text.as_bytes()).unwrap(), (Encoding::Utf8, text));
        }
        let cut = "x".repeat(CHUNK - 1).into_bytes().into_iter().chain([0xe7]).collect::<Vec<u8>>();
        assert_eq!(read(&cut).unwrap().0, Encoding::Windows1252, "the last letter is not whole UTF-8");
    }

    #[test]
    fn what_is_no_text_is_refused() {
        assert!(matches!(read(b""), Err(PaperError::Empty)));
        assert!(matches!(read(b"PK\x03\x04rest"), Err(PaperError::Spreadsheet)));
        assert!(matches!(read(b"\xd0\xcf\x11\xe0\xa1"), Err(PaperError::Spreadsheet)));
        assert!(matches!(read(b"f\0r\0a\0"), Err(PaperError::NotText(_))));
        assert!(matches!(read(b"\xff\xfe\x00\xd8x\x00"), Err(PaperError::NotText(_))), "half a pair");
    }
}
