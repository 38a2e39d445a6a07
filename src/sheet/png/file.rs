//! Writes pixels as a PNG file: ISO/IEC 15948, chunks in clauses 5 and 11. Three colours of eight bits each, no filter:
//! most rows of a sheet are white or equal the row above, and the compressor exploits that.

use std::io::{self, Write};

use flate2::{Compression, Crc, write::ZlibEncoder};
use tiny_skia::Pixmap;

use super::DPI;

/// Writes opaque pixels.
pub(super) fn write(pixels: &Pixmap) -> io::Result<Vec<u8>> {
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut header = [pixels.width().to_be_bytes(), pixels.height().to_be_bytes()].concat();
    // Eight bits a channel; red, green and blue; the only compression method; the only set of filters; rows from top to
    // bottom.
    header.extend([8, 2, 0, 0, 0]);
    chunk(&mut png, b"IHDR", &header);
    // Pixels a metre, so that the picture prints at its true size.
    let density = (u32::from(DPI) * 10_000 + 127) / 254;
    chunk(&mut png, b"pHYs", &[&density.to_be_bytes()[..], &density.to_be_bytes(), &[1]].concat());
    chunk(&mut png, b"tEXt", concat!("Software\0breathline ", env!("CARGO_PKG_VERSION")).as_bytes());
    let mut rows = ZlibEncoder::new(Vec::new(), Compression::new(LEVEL));
    let mut line = Vec::new();
    for row in pixels.pixels().chunks_exact(pixels.width() as usize) {
        line.clear();
        // The row has no filter.
        line.push(0);
        line.extend(row.iter().flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()]));
        rows.write_all(&line)?;
    }
    chunk(&mut png, b"IDAT", &rows.finish()?);
    chunk(&mut png, b"IEND", &[]);
    Ok(png)
}

/// The level of compression, up to 9. A higher level is slower and saves little.
const LEVEL: u32 = 6;

fn chunk(png: &mut Vec<u8>, kind: &[u8; 4], data: &[u8]) {
    let mut sum = Crc::new();
    sum.update(kind);
    sum.update(data);
    png.extend((data.len() as u32).to_be_bytes());
    png.extend(kind);
    png.extend(data);
    png.extend(sum.sum().to_be_bytes());
}
