//! The zip container of compressed MusicXML: bytes of the archive in, bytes of the score inside out.
//!
//! `META-INF/container.xml` names the score as its first rootfile (MusicXML 4.0, "Compressed .mxl files");
//! where that fails, the first file that is named like a score is taken.

use std::io::{Cursor, Read};

use zip::{ZipArchive, result::ZipError};

use super::{ImportError, MAX_BYTES, musicxml::parse};

/// The largest container description that is read.
const MAX_CONTAINER: usize = 1 << 20;
/// The most files that are looked at; a score has a handful (pictures of its pages).
const MAX_ENTRIES: usize = 10_000;

type Archive<'a> = ZipArchive<Cursor<&'a [u8]>>;

/// The bytes of the score inside the container.
///
/// # Errors
///
/// [`ImportError::Broken`] for a damaged archive, [`ImportError::NotAScore`] for an archive without a score, and
/// [`ImportError::TooLarge`] when more than [`MAX_BYTES`] come out of it.
pub fn unpack(bytes: &[u8]) -> Result<Vec<u8>, ImportError> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    if archive.len() > MAX_ENTRIES {
        return Err(ImportError::TooLarge { what: "the zip archive", limit: MAX_ENTRIES, unit: "files" });
    }
    let names: Vec<String> = (0..archive.len())
        .map(|index| match archive.name_for_index(index) {
            Some(Ok(name)) => name.into_owned(),
            _ => String::new(),
        })
        .collect();
    let score = rootfile(&mut archive, &names)
        .or_else(|| names.iter().position(|name| looks_like_a_score(name)))
        .ok_or_else(|| ImportError::NotAScore { found: "a zip archive without a score in it".into() })?;
    extract(&mut archive, score, MAX_BYTES)
}

/// The index of the first rootfile, if the container names one that is there.
fn rootfile(archive: &mut Archive<'_>, names: &[String]) -> Option<usize> {
    let container = names.iter().position(|name| name.eq_ignore_ascii_case("META-INF/container.xml"))?;
    let bytes = extract(archive, container, MAX_CONTAINER).ok()?;
    let (text, _) = parse::decode(&bytes);
    let document = parse::document(&text).ok()?;
    // The namespace is optional and often wrong, so only the local name counts.
    let path = document
        .descendants()
        .find(|node| node.tag_name().name() == "rootfile")?
        .attribute("full-path")?
        .trim_start_matches('/');
    names.iter().position(|name| name == path)
}

/// Whether a file would be the score if the container did not say.
fn looks_like_a_score(name: &str) -> bool {
    let lower = name.to_ascii_lowercase();
    let hidden =
        lower.starts_with("meta-inf/") || lower.split('/').any(|s| s == "__macosx" || s.starts_with('.'));
    !hidden && (lower.ends_with(".xml") || lower.ends_with(".musicxml"))
}

/// One file of the archive, but no more than `limit` bytes of it: sizes that an archive states may lie.
fn extract(archive: &mut Archive<'_>, index: usize, limit: usize) -> Result<Vec<u8>, ImportError> {
    let file = archive.by_index(index).map_err(broken)?;
    let mut bytes = Vec::new();
    let read = file.take(limit as u64 + 1).read_to_end(&mut bytes);
    if bytes.len() > limit {
        return Err(ImportError::TooLarge { what: "the unpacked score", limit, unit: "bytes" });
    }
    read.map_err(|error| ImportError::Broken {
        at: None,
        what: format!("the zip archive breaks off ({error})"),
    })?;
    Ok(bytes)
}

fn broken(error: ZipError) -> ImportError {
    let what = match error {
        ZipError::UnsupportedArchive(why) if why == ZipError::PASSWORD_REQUIRED => {
            "the zip archive is locked with a password".to_owned()
        }
        other => format!("the zip archive cannot be unpacked ({other})"),
    };
    ImportError::Broken { at: None, what }
}
