//! Packs markup that the page keeps until the reader chooses it: deflated (RFC 1951), as base64 text (RFC 4648). A
//! browser unpacks it with `DecompressionStream("deflate-raw")`.

use std::io::Write;

use base64::{Engine, prelude::BASE64_STANDARD};
use flate2::{Compression, write::DeflateEncoder};

/// Returns markup as packed text. A sheet shrinks to about a fifth of its size.
pub(super) fn packed(markup: &str) -> String {
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::default());
    // Writing to memory cannot fail.
    let deflated = encoder.write_all(markup.as_bytes()).and_then(|()| encoder.finish());
    BASE64_STANDARD.encode(deflated.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use flate2::read::DeflateDecoder;

    use super::*;

    #[test]
    fn what_is_packed_is_unpacked_again() {
        for markup in ["", "<p>é</p>", &"<g class=\"note\"></g>".repeat(10_000)] {
            let text = packed(markup);
            let mut unpacked = String::new();
            let deflated = BASE64_STANDARD.decode(&text).unwrap();
            DeflateDecoder::new(deflated.as_slice()).read_to_string(&mut unpacked).unwrap();
            assert_eq!(unpacked, markup);
            assert!(text.len() < markup.len() / 50 + 40);
        }
    }
}
