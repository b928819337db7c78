//! Compressions of TIFF, each undone as a stream.

use std::io::{self, BufRead, BufReader, Cursor, Read, Seek, SeekFrom};
use std::sync::{Arc, PoisonError};

use super::directory::{Directory, SharedFile, tag};
use super::layout::Piece;
use super::lzw::Lzw;
use crate::error::{Fault, Feature};
use crate::{Colour, jpeg_file};

/// How strips or tiles are compressed.
#[derive(Debug, Clone)]
pub(super) enum Compression {
    None,
    Lzw,
    Deflate,
    PackBits,
    /// Zstandard, RFC 8878.
    Zstd,
    /// Baseline JPEG in every strip or tile.
    Jpeg {
        /// The tables that they share.
        tables: Arc<[u8]>,
        /// The channels are red, green and blue as they stand, not luma and colour difference.
        plain: bool,
    },
}

impl Compression {
    pub(super) fn from_tag(value: u64) -> Result<Self, Fault> {
        let name = match value {
            1 => return Ok(Self::None),
            5 => return Ok(Self::Lzw),
            8 | 32946 => return Ok(Self::Deflate),
            32773 => return Ok(Self::PackBits),
            50000 => return Ok(Self::Zstd),
            7 => return Ok(Self::Jpeg { tables: Arc::new([]), plain: false }),
            2..=4 => "a fax method, for line art",
            6 => "the abandoned JPEG method of TIFF 6.0",
            34712 => "JPEG 2000",
            34892 => "the lossy JPEG method of DNG",
            34887 => "LERC",
            34925 => "LZMA",
            50001 => "WebP",
            50002 | 52546 => "JPEG XL",
            other => return Err(Feature::Compression(format!("an unknown method (number {other})")).into()),
        };
        Err(Feature::Compression(name.into()).into())
    }

    /// The same with the JPEG tables that the file shares among its chunks.
    pub(super) fn with_tables(self, directory: &Directory, photometric: u64) -> Result<Self, Fault> {
        match self {
            Self::Jpeg { .. } => {
                let tables = directory.bytes(tag::JPEG_TABLES)?.unwrap_or_default().into();
                Ok(Self::Jpeg { tables, plain: photometric == 2 })
            }
            other => Ok(other),
        }
    }

    /// How many bytes one compressed byte can become at most; anything beyond is made up.
    pub(super) fn greatest_ratio(&self) -> u64 {
        match self {
            Self::None => 1,
            // A 12-bit code stands for at most 4096 bytes.
            Self::Lzw => 2731,
            // RFC 1951: 258 bytes for two bits.
            Self::Deflate => 1032,
            // Two bytes for 128.
            Self::PackBits => 64,
            // A block of four bytes that repeats one byte 128 Ki times.
            Self::Zstd => 32_768,
            // Two bits for a block of 64 samples.
            Self::Jpeg { .. } => 1024,
        }
    }

    /// The decoded bytes of a strip or tile of `size` as a stream, one of `abreast` that are open at the same time.
    pub(super) fn open(
        &self,
        file: &SharedFile,
        piece: Piece,
        colour: Colour,
        size: (u32, u32),
        abreast: usize,
    ) -> Result<Box<dyn Read + Send>, Fault> {
        let bare = || Window { file: file.clone(), piece };
        let window = || BufReader::with_capacity(BUFFER, bare());
        Ok(match self {
            Self::None => Box::new(window()),
            Self::Deflate => Box::new(flate2::bufread::ZlibDecoder::new(window())),
            Self::PackBits => Box::new(PackBits { inner: window(), pending: Run::None }),
            Self::Lzw if abreast <= MAX_FAST_LZW => Box::new(Lzw::new(bare())),
            Self::Lzw => Box::new(ThriftyLzw::new(window())),
            Self::Zstd => {
                let decoder = ruzstd::decoding::StreamingDecoder::new(window());
                Box::new(decoder.map_err(|e| Fault::Damaged(format!("its Zstandard data make no sense ({e})")))?)
            }
            Self::Jpeg { tables, plain } => {
                let mut stream = Vec::new();
                window().take(MAX_JPEG_PIECE).read_to_end(&mut stream).map_err(Fault::Read)?;
                Box::new(Cursor::new(jpeg_file::decode_piece(tables, &stream, (colour, *plain), size)?))
            }
        })
    }
}

/// Bytes read at a time per strip or tile, of which two thousand may be open.
const BUFFER: usize = 32 << 10;
/// Most LZW streams that may be open at the same time and take 7 MB each at worst, which is what the fast decoder may.
const MAX_FAST_LZW: usize = 8;
/// Most bytes of one JPEG strip or tile, which must be held.
const MAX_JPEG_PIECE: u64 = 256 << 20;

/// A piece of a shared file.
struct Window {
    file: SharedFile,
    piece: Piece,
}

impl Read for Window {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let wanted = self.piece.bytes.min(buffer.len() as u64) as usize;
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        file.seek(SeekFrom::Start(self.piece.offset))?;
        let read = file.read(&mut buffer[..wanted])?;
        if self.piece.reversed {
            buffer[..read].iter_mut().for_each(|b| *b = b.reverse_bits());
        }
        self.piece.offset += read as u64;
        self.piece.bytes -= read as u64;
        Ok(read)
    }
}

/// The same bytes of every row of what is not compressed.
pub(super) struct Columns {
    window: Window,
    /// Bytes to be read of each row, and to be stepped over between them.
    wanted: u64,
    gap: u64,
    /// Bytes that are still to be read of this row.
    left: u64,
}

impl Columns {
    /// Reads `wanted` bytes of every `row` bytes, from the piece's first on.
    pub(super) fn new(file: &SharedFile, piece: Piece, wanted: u64, row: u64) -> Self {
        let window = Window { file: file.clone(), piece };
        Self { window, wanted, gap: row.saturating_sub(wanted), left: wanted }
    }
}

impl Read for Columns {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.left == 0 {
            let piece = &mut self.window.piece;
            (piece.offset, piece.bytes) = (piece.offset + self.gap, piece.bytes.saturating_sub(self.gap));
            self.left = self.wanted;
        }
        let most = self.left.min(buffer.len() as u64) as usize;
        let read = self.window.read(&mut buffer[..most])?;
        self.left -= read as u64;
        Ok(read)
    }
}

/// LZW in less memory than [`Lzw`], and in thrice the time.
struct ThriftyLzw<R> {
    inner: R,
    decoder: weezl::decode::Decoder,
}

impl<R: BufRead> ThriftyLzw<R> {
    fn new(inner: R) -> Self {
        let configuration = weezl::decode::Configuration::with_tiff_size_switch(weezl::BitOrder::Msb, 8);
        Self { inner, decoder: configuration.with_yield_on_full_buffer(true).build() }
    }
}

impl<R: BufRead> Read for ThriftyLzw<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            let input = self.inner.fill_buf()?;
            let at_end = input.is_empty();
            let result = self.decoder.decode_bytes(input, buffer);
            self.inner.consume(result.consumed_in);
            let status =
                result.status.map_err(|_| io::Error::new(io::ErrorKind::InvalidData, "its LZW codes make no sense"))?;
            let stuck = at_end || matches!(status, weezl::LzwStatus::Done);
            if result.consumed_out > 0 || stuck || buffer.is_empty() {
                return Ok(result.consumed_out);
            }
        }
    }
}

/// What a PackBits header byte announced and has not been delivered yet.
enum Run {
    None,
    Literal(usize),
    Repeat(usize, u8),
}

/// PackBits, TIFF 6.0 section 9.
struct PackBits<R> {
    inner: R,
    pending: Run,
}

impl<R: BufRead> PackBits<R> {
    fn byte(&mut self) -> io::Result<Option<u8>> {
        let byte = self.inner.fill_buf()?.first().copied();
        self.inner.consume(usize::from(byte.is_some()));
        Ok(byte)
    }

    /// The next run, or `None` at the end.
    fn next_run(&mut self) -> io::Result<Option<Run>> {
        let Some(header) = self.byte()? else { return Ok(None) };
        Ok(Some(match header {
            0..=127 => Run::Literal(usize::from(header) + 1),
            128 => Run::None,
            _ => match self.byte()? {
                Some(value) => Run::Repeat(257 - usize::from(header), value),
                None => return Ok(None),
            },
        }))
    }
}

impl<R: BufRead> Read for PackBits<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if buffer.is_empty() {
            return Ok(0);
        }
        loop {
            match self.pending {
                Run::None => match self.next_run()? {
                    Some(run) => self.pending = run,
                    None => return Ok(0),
                },
                Run::Literal(left) => {
                    let wanted = left.min(buffer.len());
                    let read = self.inner.read(&mut buffer[..wanted])?;
                    self.pending = if read == left { Run::None } else { Run::Literal(left - read) };
                    return Ok(read);
                }
                Run::Repeat(left, value) => {
                    let count = left.min(buffer.len());
                    buffer[..count].fill(value);
                    self.pending = if count == left { Run::None } else { Run::Repeat(left - count, value) };
                    return Ok(count);
                }
            }
        }
    }
}
