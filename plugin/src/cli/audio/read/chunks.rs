//! Walking over the chunks of RIFF (WAV) and IFF (AIFF) files: a four-letter name, a 32-bit size
//! and that many bytes, each chunk beginning at an even position (EA IFF 85; RIFF, Multimedia
//! Programming Interface and Data Specifications 1.0, 1991).

use std::io::{Read, Seek, SeekFrom};

use super::{Header, unreadable};
use crate::cli::audio::Problem;

/// Where the first chunk begins: behind the name, size and form of the whole, in bytes.
const FIRST_CHUNK: u64 = 12;

/// Chunks without which a file cannot be read, recognised where an odd chunk before them was not
/// padded.
const NEEDED: [&[u8; 4]; 4] = [b"fmt ", b"data", b"COMM", b"SSND"];

/// One chunk's name and place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chunk {
    pub(super) name: [u8; 4],
    /// As declared, in bytes; the file may hold fewer.
    pub(super) size_bytes: u32,
    /// Position of its first byte after name and size.
    pub(super) start: u64,
}

/// An iterator over the chunks of a file.
pub(super) struct Chunks<'a> {
    header: &'a mut Header,
    size_of: fn([u8; 4]) -> u32,
    next: u64,
    /// The next chunk follows one of odd size, so a pad byte should come first.
    after_odd: bool,
}

impl<'a> Chunks<'a> {
    /// Walks from the first chunk; `size_of` reads a size in the file's byte order.
    pub(super) fn new(header: &'a mut Header, size_of: fn([u8; 4]) -> u32) -> Self {
        Self {
            header,
            size_of,
            next: FIRST_CHUNK,
            after_odd: false,
        }
    }

    /// The next chunk, or `None` where none begins.
    pub(super) fn next(&mut self) -> Result<Option<Chunk>, Problem> {
        let mut raw = [0; 8];
        if !self.peek(&mut raw)? {
            return Ok(None);
        }
        if self.after_odd && !NEEDED.iter().any(|name| raw.starts_with(*name)) {
            self.next += 1;
            if !self.peek(&mut raw)? {
                return Ok(None);
            }
        }
        let [n0, n1, n2, n3, s0, s1, s2, s3] = raw;
        // A name is four printable characters; anything else is no chunk. Stopping here keeps a
        // file of zeros, as a recorder leaves that lost its power, from being walked to its end.
        if ![n0, n1, n2, n3]
            .iter()
            .all(|byte| matches!(byte, b' '..=b'~'))
        {
            return Ok(None);
        }
        let size_bytes = (self.size_of)([s0, s1, s2, s3]);
        let start = self.next + 8;
        self.next = start + u64::from(size_bytes);
        self.after_odd = !size_bytes.is_multiple_of(2);
        Ok(Some(Chunk {
            name: [n0, n1, n2, n3],
            size_bytes,
            start,
        }))
    }

    /// The first `N` bytes inside a chunk.
    pub(super) fn body<const N: usize>(&mut self, chunk: Chunk) -> Result<[u8; N], Problem> {
        let mut body = [0; N];
        self.header
            .file
            .seek(SeekFrom::Start(chunk.start))
            .map_err(unreadable)?;
        self.header.file.read_exact(&mut body).map_err(unreadable)?;
        Ok(body)
    }

    /// Bytes that the file really holds from `position` on.
    pub(super) fn available_bytes(&self, position: u64) -> u64 {
        self.header.len_bytes.saturating_sub(position)
    }

    fn peek(&mut self, raw: &mut [u8; 8]) -> Result<bool, Problem> {
        if self.available_bytes(self.next) < 8 {
            return Ok(false);
        }
        self.header
            .file
            .seek(SeekFrom::Start(self.next))
            .map_err(unreadable)?;
        self.header.file.read_exact(raw).map_err(unreadable)?;
        Ok(true)
    }
}
