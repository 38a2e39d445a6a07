//! Finds the tracks of a Standard MIDI File.
//!
//! Chunk lengths are often wrong (incomplete downloads, hand-made files, bytes added by a player). The reader therefore
//! checks each length against the bytes after it, and searches for the next track if the length does not fit.

use super::super::{ImportError, TextPosition};

/// The largest number of tracks that is read: the highest count that fits in the header.
const MAX_TRACKS: usize = 65_535;

/// The event that ends a track.
const END_OF_TRACK: [u8; 3] = [0xFF, 0x2F, 0x00];

/// The header's contents.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Header {
    /// Format 0 has one track; format 1 has tracks that play at once; format 2 has independent patterns.
    pub(super) format: u16,
    /// The number of tracks that the header claims.
    pub(super) tracks: u16,
    /// The ticks per quarter; with the top bit set, the frames per second and the ticks per frame.
    pub(super) division: u16,
}

/// The bytes of a track.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chunk<'a> {
    /// The events of the track; more bytes may follow them if the length is not reliable.
    pub(super) data: &'a [u8],
    /// The offset of the data in the file.
    pub(super) at: usize,
    /// Whether the file ends before the track's stated end, and no other track follows.
    pub(super) runs_out: bool,
}

/// The header, the tracks, and the defects of the chunks.
pub(super) struct Chunks<'a> {
    /// The header.
    pub(super) header: Header,
    /// The tracks in order.
    pub(super) tracks: Vec<Chunk<'a>>,
    /// Whether a chunk is longer or shorter than its stated length.
    pub(super) wrong_length: bool,
    /// Whether some bytes belong to no chunk.
    pub(super) stray_bytes: bool,
}

/// Finds the chunks, in linear time.
///
/// # Errors
///
/// Returns [`ImportError::Broken`] if the header is missing or incomplete.
pub(super) fn find(file: &[u8]) -> Result<Chunks<'_>, ImportError> {
    // A RIFF wrapper only adds bytes before and after the MIDI file.
    let start = search(file, b"MThd", 0).ok_or_else(|| ImportError::Broken {
        at: Some(TextPosition::Byte(file.len())),
        what: "it has no MIDI header".to_owned(),
    })?;
    let field = |at: usize| Some(u16::from_be_bytes([*file.get(start + at)?, *file.get(start + at + 1)?]));
    let (Some(format), Some(tracks), Some(division)) = (field(8), field(10), field(12)) else {
        return Err(ImportError::Broken {
            at: Some(TextPosition::Byte(file.len())),
            what: "it ends in the middle of the MIDI header".to_owned(),
        });
    };
    let mut chunks = Chunks {
        header: Header { format, tracks, division },
        tracks: Vec::new(),
        wrong_length: false,
        stray_bytes: false,
    };
    let mut at = chunk_end(file, start).filter(|&end| is_boundary(file, end)).unwrap_or_else(|| {
        chunks.wrong_length = true;
        start + 14
    });
    let wrapped = start > 0;
    while at < file.len() && chunks.tracks.len() < MAX_TRACKS {
        let is_track = file[at..].starts_with(b"MTrk");
        if !is_track && !is_chunk(file, at) {
            // Bytes after the music inside a RIFF wrapper belong to the wrapper.
            chunks.stray_bytes |= !wrapped;
            match search(file, b"MTrk", at) {
                Some(next) => at = next,
                None => break,
            }
            continue;
        }
        let data_start = (at + 8).min(file.len());
        let (data_end, runs_out) = match chunk_end(file, at) {
            Some(end) if is_boundary(file, end) || file[..end].ends_with(&END_OF_TRACK) => (end, false),
            // The track ends at its own end mark, or at the latest where the next track begins.
            end => {
                let next = search(file, b"MTrk", data_start);
                let runs_out = end.is_none() && next.is_none();
                chunks.wrong_length |= !runs_out && (is_track || !wrapped);
                (next.unwrap_or(file.len()), runs_out)
            }
        };
        if is_track {
            let data = &file[data_start..data_end];
            chunks.tracks.push(Chunk { data, at: data_start, runs_out });
        } else if runs_out && !wrapped {
            chunks.stray_bytes = true;
        }
        at = data_end;
    }
    Ok(chunks)
}

/// Returns the stated end of the chunk at this offset, if the end lies within the file.
fn chunk_end(file: &[u8], at: usize) -> Option<usize> {
    let length: [u8; 4] = file.get(at + 4..at + 8)?.try_into().ok()?;
    let end = (at + 8).checked_add(usize::try_from(u32::from_be_bytes(length)).ok()?)?;
    (end <= file.len()).then_some(end)
}

/// Whether a chunk can end here, which is at the end of the file or before another chunk.
fn is_boundary(file: &[u8], at: usize) -> bool {
    at == file.len() || is_chunk(file, at)
}

/// Whether a whole chunk header with a plausible name begins here.
fn is_chunk(file: &[u8], at: usize) -> bool {
    file.get(at..at + 8).is_some_and(|head| head[..4].iter().all(|byte| (b' '..=b'~').contains(byte)))
}

fn search(file: &[u8], name: &[u8; 4], from: usize) -> Option<usize> {
    let rest = file.get(from..)?;
    rest.windows(4).position(|window| window == name).map(|found| from + found)
}
