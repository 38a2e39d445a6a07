//! The zip container of compressed MusicXML: takes the bytes of the archive, returns the bytes of the score inside.
//!
//! `META-INF/container.xml` names the score as its first rootfile (MusicXML 4.0, "Compressed .mxl files"). If the
//! container names no readable score, the first file named like a score is taken.

use std::io::Read;

use flate2::bufread::DeflateDecoder;
use rawzip::{CompressionMethod, Error, ZipArchive, ZipFileHeaderRecord, ZipSliceArchive};

use super::{ImportError, MAX_BYTES, musicxml::parse};

/// The size of the largest container description that is read, in bytes.
const MAX_CONTAINER: usize = 1 << 20;
/// The largest number of files in an archive. A compressed score has only a few, such as pictures of its pages.
const MAX_ENTRIES: usize = 10_000;
/// The largest ratio of an unpacked file to its packed size, apart from [`FREE`] bytes. A score usually unpacks to
/// about thirty times its packed size.
const MOST_GROWTH: u64 = 100;
/// Bytes that any file may unpack to: enough for a tune of ten thousand notes, however repetitive.
const FREE: u64 = 12 << 20;

type Archive<'a> = ZipSliceArchive<&'a [u8]>;

/// A file of the archive, with its name.
struct Entry<'a> {
    name: String,
    record: ZipFileHeaderRecord<'a>,
}

/// Returns the bytes of the score inside the container.
///
/// # Errors
///
/// Returns [`ImportError::Broken`] for a damaged archive, [`ImportError::NotAScore`] for an archive without a score,
/// and [`ImportError::TooLarge`] if the archive has too many files or the score exceeds a limit on its unpacked size.
pub fn unpack(bytes: &[u8]) -> Result<Vec<u8>, ImportError> {
    let archive = ZipArchive::from_slice(bytes).map_err(damaged)?;
    let mut entries: Vec<Entry> = Vec::new();
    let mut directory = archive.entries();
    while let Some(record) = directory.next_entry().map_err(damaged)? {
        if entries.len() == MAX_ENTRIES {
            return Err(ImportError::TooLarge { what: "the zip archive", limit: MAX_ENTRIES, unit: "files" });
        }
        let name = String::from_utf8_lossy(record.file_path().as_bytes()).into_owned();
        entries.push(Entry { name, record });
    }
    let score = rootfile(&archive, &entries)
        .or_else(|| entries.iter().find(|entry| looks_like_a_score(&entry.name)))
        .ok_or_else(|| ImportError::NotAScore { found: "a zip archive without a score in it".into() })?;
    extract(&archive, score, MAX_BYTES)
}

/// Returns the file that the container names as its first rootfile, if that file exists.
fn rootfile<'e, 'a>(archive: &Archive<'_>, entries: &'e [Entry<'a>]) -> Option<&'e Entry<'a>> {
    let container = entries.iter().find(|entry| entry.name.eq_ignore_ascii_case("META-INF/container.xml"))?;
    let bytes = extract(archive, container, MAX_CONTAINER).ok()?;
    let source = parse::Source::decode(&bytes);
    let document = source.document().ok()?;
    // The name space is optional and often wrong, so only the local name is compared.
    let path = document
        .descendants()
        .find(|node| node.tag_name().name() == "rootfile")?
        .attribute("full-path")?
        .trim_start_matches('/');
    entries.iter().find(|entry| entry.name == path)
}

/// Whether a file is likely to be the score if the container names none.
fn looks_like_a_score(name: &str) -> bool {
    let lower = name.to_ascii_lowercase();
    let hidden =
        lower.starts_with("meta-inf/") || lower.split('/').any(|s| s == "__macosx" || s.starts_with('.'));
    !hidden && (lower.ends_with(".xml") || lower.ends_with(".musicxml"))
}

/// Extracts one file of the archive, and fails if the file exceeds `limit` bytes or grows too much. The bytes
/// themselves are counted, because the sizes that an archive states may be false.
fn extract(archive: &Archive<'_>, entry: &Entry<'_>, limit: usize) -> Result<Vec<u8>, ImportError> {
    if entry.record.flags().is_encrypted() {
        return Err(ImportError::NotAScore { found: "a zip archive locked with a password".into() });
    }
    let file = archive.get_entry(entry.record.wayfinder()).map_err(damaged)?;
    let mut bytes = Vec::new();
    let packed = file.data().len() as u64;
    let limit = limit.min(usize::try_from(FREE + packed.saturating_mul(MOST_GROWTH)).unwrap_or(limit));
    let most = limit as u64 + 1;
    let read = match entry.record.compression_method() {
        CompressionMethod::STORE => file.verifying_reader(file.data()).take(most).read_to_end(&mut bytes),
        CompressionMethod::DEFLATE => {
            file.verifying_reader(DeflateDecoder::new(file.data())).take(most).read_to_end(&mut bytes)
        }
        _ => {
            let found = "a zip archive with a compression that scores do not use".into();
            return Err(ImportError::NotAScore { found });
        }
    };
    if bytes.len() > limit {
        return Err(ImportError::TooLarge { what: "the unpacked score", limit, unit: "bytes" });
    }
    read.map_err(|_| broken("the zip archive breaks off or is damaged inside"))?;
    Ok(bytes)
}

fn damaged(_: Error) -> ImportError {
    broken("the zip archive cannot be unpacked")
}

fn broken(what: &str) -> ImportError {
    ImportError::Broken { at: None, what: what.to_owned() }
}
