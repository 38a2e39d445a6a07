//! Writes pixels as a PNG file: ISO/IEC 15948, chunks in clauses 5 and 11. A pixel is one byte, the index of its colour
//! in the palette. The rows have no filter: most rows of a sheet are white or equal the row above, so they compress
//! well without one.

use std::{
    cmp::Reverse,
    collections::BTreeMap,
    io::{self, Write},
};

use flate2::{Compression, Crc, write::ZlibEncoder};
use tiny_skia::Pixmap;

use super::DPI;

/// The level of compression, up to 9. Level 6 takes twice as long as this level, and saves a fifth of the file.
const LEVEL: u32 = 2;

/// Writes opaque pixels.
pub(super) fn write(pixels: &Pixmap) -> io::Result<Vec<u8>> {
    let runs = Runs::of(pixels);
    let palette = Palette::of(&runs);
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut header = [pixels.width().to_be_bytes(), pixels.height().to_be_bytes()].concat();
    // Eight bits a pixel; a palette; the only compression method; the only set of filters; rows from top to bottom.
    header.extend([8, 3, 0, 0, 0]);
    chunk(&mut png, b"IHDR", &header);
    // Pixels a metre, so that the picture prints at its true size.
    let density = (u32::from(DPI) * 10_000 + 127) / 254;
    chunk(&mut png, b"pHYs", &[&density.to_be_bytes()[..], &density.to_be_bytes(), &[1]].concat());
    chunk(&mut png, b"tEXt", concat!("Software\0breathline ", env!("CARGO_PKG_VERSION")).as_bytes());
    chunk(&mut png, b"PLTE", palette.colours.as_flattened());
    let mut data = ZlibEncoder::new(Vec::new(), Compression::new(LEVEL));
    let mut line = Vec::new();
    for row in &runs.rows {
        if !row.is_empty() {
            line.clear();
            // The row has no filter.
            line.push(0);
            for &(colour, length) in row {
                line.resize(line.len() + length as usize, palette.indices[colour as usize]);
            }
        }
        data.write_all(&line)?;
    }
    chunk(&mut png, b"IDAT", &data.finish()?);
    chunk(&mut png, b"IEND", &[]);
    Ok(png)
}

/// Red, green and blue.
type Colour = [u8; 3];

/// A picture as runs of equal pixels.
struct Runs {
    /// The colours, each with the number of pixels in rows that differ from the row above.
    colours: Vec<(Colour, usize)>,
    /// The runs of each row: the index of the colour, and the length in pixels. A row that equals the row above has no
    /// runs.
    rows: Vec<Vec<(u32, u32)>>,
}

impl Runs {
    fn of(pixels: &Pixmap) -> Runs {
        let (pixels, width) = (pixels.data().as_chunks::<4>().0, pixels.width() as usize);
        let mut runs = Runs { colours: Vec::new(), rows: Vec::new() };
        let mut known = BTreeMap::new();
        let mut above: &[[u8; 4]] = &[];
        for row in pixels.chunks_exact(width) {
            let mut found = Vec::new();
            let new = if row == above { &[] } else { row };
            for run in new.chunk_by(|a, b| a == b) {
                let [red, green, blue, _] = run[0];
                let colour = *known.entry(u32::from_ne_bytes(run[0])).or_insert_with(|| {
                    runs.colours.push(([red, green, blue], 0));
                    runs.colours.len() - 1
                });
                runs.colours[colour].1 += run.len();
                found.push((colour as u32, run.len() as u32));
            }
            runs.rows.push(found);
            above = row;
        }
        runs
    }
}

/// The colours of the file.
struct Palette {
    colours: Vec<Colour>,
    /// For each colour of the picture, its index in the palette.
    indices: Vec<u8>,
}

impl Palette {
    /// The largest number of colours in a palette.
    const MOST: usize = 256;

    /// Returns the most frequent colours. A page has few inks, but each ink has many shades at the edges of its letters
    /// and lines. If there are too many shades, the nearest of the frequent ones replace the rarest.
    fn of(runs: &Runs) -> Palette {
        let mut common: Vec<(Colour, usize)> = runs.colours.clone();
        common.sort_by_key(|&(_, pixels)| Reverse(pixels));
        let colours: Vec<Colour> = common.into_iter().map(|(colour, _)| colour).take(Palette::MOST).collect();
        let apart = |a: &Colour, b: &Colour| -> u32 {
            a.iter().zip(b).map(|(a, b)| u32::from(a.abs_diff(*b)).pow(2)).sum()
        };
        let nearest = |colour: &Colour| {
            let palette = (0..=u8::MAX).zip(&colours);
            palette.min_by_key(|(_, other)| apart(colour, other)).map_or(0, |(index, _)| index)
        };
        let indices = runs.colours.iter().map(|(colour, _)| nearest(colour)).collect();
        Palette { colours, indices }
    }
}

fn chunk(png: &mut Vec<u8>, kind: &[u8; 4], data: &[u8]) {
    let mut sum = Crc::new();
    sum.update(kind);
    sum.update(data);
    png.extend((data.len() as u32).to_be_bytes());
    png.extend(kind);
    png.extend(data);
    png.extend(sum.sum().to_be_bytes());
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use flate2::read::ZlibDecoder;
    use tiny_skia::PremultipliedColorU8;

    use super::*;

    /// Returns the data of the first chunk of a kind.
    fn chunk_of<'a>(png: &'a [u8], kind: &[u8; 4]) -> &'a [u8] {
        let mut rest = &png[8..];
        loop {
            let length = u32::from_be_bytes(rest[..4].try_into().unwrap()) as usize;
            if &rest[4..8] == kind {
                return &rest[8..8 + length];
            }
            rest = &rest[12 + length..];
        }
    }

    /// Draws each colour as a column two pixels high, and reads the file back.
    fn read_back(colours: &[Colour]) -> Vec<Colour> {
        let width = colours.len();
        let mut pixels = Pixmap::new(width as u32, 2).unwrap();
        for (pixel, [red, green, blue]) in pixels.pixels_mut().iter_mut().zip(colours.iter().cycle()) {
            *pixel = PremultipliedColorU8::from_rgba(*red, *green, *blue, 255).unwrap();
        }
        let png = write(&pixels).unwrap();
        let palette = chunk_of(&png, b"PLTE").as_chunks::<3>().0;
        let mut rows = Vec::new();
        ZlibDecoder::new(chunk_of(&png, b"IDAT")).read_to_end(&mut rows).unwrap();
        let (above, below) = rows.split_at(width + 1);
        assert_eq!((above, above[0]), (below, 0));
        above[1..].iter().map(|&index| palette[usize::from(index)]).collect()
    }

    #[test]
    fn few_colours_are_kept_and_of_many_the_rarest_become_the_nearest() {
        let blues: Vec<Colour> = (0..=255).map(|blue| [0, 0, blue]).collect();
        assert_eq!(read_back(&blues), blues);
        // The blues are twice as frequent as the reds, each of which is nearest to black.
        let reds = (1..=50).map(|red| [red, 0, 0]);
        let many: Vec<Colour> = blues.iter().chain(&blues).copied().chain(reds).collect();
        let back = read_back(&many);
        assert_eq!(back[..512], many[..512]);
        assert_eq!(back[512..], [[0, 0, 0]; 50]);
    }
}
