//! Damages valid files; the same number gives the same damage.

/// Random numbers from a seed (splitmix64; Steele, Lea and Flood, OOPSLA 2014, from memory).
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Random {
        Random(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ z >> 31
    }

    /// Returns a number below `end`, or 0 if `end` is 0.
    pub(crate) fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    pub(crate) fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    pub(crate) fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len())]
    }

    /// Returns a range within a length; most ranges are short.
    fn range(&mut self, length: usize) -> std::ops::Range<usize> {
        let start = self.below(length + 1);
        let most = if self.one_in(4) { length } else { 40 };
        start..(start + self.below(most + 1)).min(length)
    }
}

/// Returns the file with up to four faults; `other` is a second file, from which pieces are taken.
pub(crate) fn mutated(file: &[u8], other: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = file.to_vec();
    // Half of the scores mostly stay well-formed XML, so that they get past the XML reader.
    if bytes.first() == Some(&b'<') && random.one_in(2) {
        for _ in 0..1 + random.below(4) {
            well_formed(&mut bytes, random);
        }
        return bytes;
    }
    for _ in 0..1 + random.below(4) {
        if bytes.first() == Some(&b'<') && !random.one_in(12) {
            tags(&mut bytes, random);
        } else if bytes.starts_with(b"MThd") && !random.one_in(3) {
            chunks(&mut bytes, other, random);
        } else if is_abc(&bytes) && !random.one_in(3) {
            signs(&mut bytes, random);
        } else {
            anything(&mut bytes, other, random);
        }
    }
    bytes
}

/// Damages bytes of any kind: cuts off the end, flips bits, removes, doubles, reverses or randomises a range, or
/// replaces it with a piece of another file.
fn anything(bytes: &mut Vec<u8>, other: &[u8], random: &mut Random) {
    let range = random.range(bytes.len());
    match random.below(7) {
        0 => bytes.truncate(random.below(bytes.len() + 1)),
        1 => {
            for _ in 0..=random.below(8) {
                let at = random.below(bytes.len());
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << random.below(8);
                }
            }
        }
        2 => drop(bytes.drain(range)),
        3 => {
            let doubled = bytes[range.clone()].to_vec();
            bytes.splice(range.end..range.end, doubled);
        }
        4 => bytes[range].reverse(),
        5 => {
            let piece = other[random.range(other.len())].to_vec();
            bytes.splice(range, piece);
        }
        _ => {
            for byte in &mut bytes[range] {
                *byte = random.next() as u8;
            }
        }
    }
}

/// Extreme numbers.
const EXTREMES: [&str; 22] = [
    "",
    "0",
    "-0",
    "1",
    "-1",
    "2",
    "7",
    "16",
    "127",
    "128",
    "255",
    "256",
    "-128",
    "32767",
    "65536",
    "1000000",
    "2147483648",
    "4294967296",
    "9223372036854775807",
    "99999999999999999999",
    "0.0000001",
    "1e9",
];

/// Damages a score, but mostly keeps it well-formed: replaces a text or the first attribute of a tag, or removes or
/// repeats an element.
fn well_formed(bytes: &mut Vec<u8>, random: &mut Random) {
    let find = |bytes: &[u8], from: usize, mark: u8| {
        let from = from.min(bytes.len());
        bytes[from..].iter().position(|&byte| byte == mark).map(|found| from + found)
    };
    let start = bytes.windows(6).position(|window| window == b"<score").unwrap_or(0) + 1;
    let Some(open) = find(bytes, start + random.below(bytes.len() - start), b'<') else { return };
    let Some(close) = find(bytes, open, b'>').map(|close| close + 1) else { return };
    if !bytes[open + 1].is_ascii_lowercase() {
        return;
    }
    let values = bytes[close..].iter().position(|&byte| byte == b'<').map(|length| close..close + length);
    let tag = String::from_utf8_lossy(&bytes[open..close]).into_owned();
    match (random.below(4), values, element_end(bytes, open, close)) {
        (0, Some(text), _) if bytes[text.clone()].iter().any(|byte| !byte.is_ascii_whitespace()) => {
            drop(bytes.splice(text, random.pick(&EXTREMES).bytes()));
        }
        (1, ..) if tag.contains('"') => {
            let (name, rest) = tag.split_once('"').unwrap_or_default();
            let rest = rest.split_once('"').map_or("", |(_, rest)| rest);
            let tag = format!("{name}\"{}\"{rest}", random.pick(&EXTREMES));
            drop(bytes.splice(open..close, tag.bytes()));
        }
        (2, _, Some(end)) => drop(bytes.drain(open..end)),
        (3, _, Some(end)) => {
            let copies = if random.one_in(8) { 40 } else { 1 };
            let element = bytes[open..end].repeat(copies);
            drop(bytes.splice(end..end, element));
        }
        _ => {}
    }
}

/// Damages a score: removes, doubles or moves tags and elements, replaces values and attributes, and inserts elements.
fn tags(bytes: &mut Vec<u8>, random: &mut Random) {
    // Each mark is searched for from a random place, so that the search is short.
    let find = |bytes: &[u8], from: usize, mark: u8| {
        let from = from.min(bytes.len());
        bytes[from..].iter().position(|&byte| byte == mark).map(|found| from + found)
    };
    let Some(open) = find(bytes, random.below(bytes.len()), b'<') else { return };
    let Some(close) = find(bytes, open, b'>').map(|close| close + 1) else { return };
    match random.below(18) {
        // A tag alone.
        0 => drop(bytes.drain(open..close)),
        1 => {
            let tag = bytes[open..close].to_vec();
            bytes.splice(close..close, tag);
        }
        // A whole element.
        kind @ 2..=8 => {
            let Some(end) = element_end(bytes, open, close) else { return };
            let element = bytes[open..end].to_vec();
            match kind {
                2 | 3 => drop(bytes.drain(open..end)),
                4..=6 => {
                    let copies = if random.one_in(8) { 40 } else { 1 };
                    bytes.splice(end..end, element.repeat(copies));
                }
                _ => {
                    // The element moves to a place where another tag begins.
                    bytes.drain(open..end);
                    let to = find(bytes, random.below(bytes.len()), b'<').unwrap_or(0);
                    bytes.splice(to..to, element);
                }
            }
        }
        // Replaces the text after a tag.
        9..=12 => {
            let end = find(bytes, close, b'<').unwrap_or(bytes.len());
            bytes.splice(close..end, random.pick(&EXTREMES).bytes());
        }
        // Replaces the value of an attribute.
        13..=15 => {
            let Some(quote) = find(bytes, open, b'"').map(|quote| quote + 1) else { return };
            let end = find(bytes, quote, b'"').unwrap_or(bytes.len());
            bytes.splice(quote..end, random.pick(&EXTREMES).bytes());
        }
        _ => {
            const ELEMENTS: [&str; 20] = [
                "<backup><duration>99</duration></backup>",
                "<forward><duration>7</duration></forward>",
                "<grace/>",
                "<chord/>",
                "<cue/>",
                "<voice>9</voice>",
                "<staff>2</staff>",
                "<tie type=\"start\"/>",
                "<tie type=\"stop\"/>",
                "<rest measure=\"yes\"/>",
                "<sound dacapo=\"yes\"/>",
                "<sound dalsegno=\"a\" tocoda=\"a\"/>",
                "<sound segno=\"a\" coda=\"a\" fine=\"yes\" tempo=\"0.1\"/>",
                "<barline location=\"left\"><repeat direction=\"forward\"/></barline>",
                "<barline><repeat direction=\"backward\" times=\"9\" after-jump=\"yes\"/></barline>",
                "<barline location=\"left\"><ending number=\"1\" type=\"start\"/></barline>",
                "<barline><ending number=\"2\" type=\"stop\"/><repeat direction=\"backward\"/></barline>",
                "<attributes><divisions>0.5</divisions><time><beats>3</beats><beat-type>8</beat-type></time></attributes>",
                "<attributes><transpose><chromatic>-40</chromatic></transpose></attributes>",
                "<measure number=\"1\"/>",
            ];
            bytes.splice(open..open, random.pick(&ELEMENTS).bytes());
        }
    }
}

/// Whether bytes look like ABC.
fn is_abc(bytes: &[u8]) -> bool {
    bytes.windows(3).any(|line| line == b"\nK:" || line == b"\rK:")
}

/// Damages a typed tune: inserts signs and fields, perhaps many times, replaces numbers, and removes, doubles or moves
/// lines.
fn signs(bytes: &mut Vec<u8>, random: &mut Random) {
    const SIGNS: [&str; 48] = [
        "|",
        ":|",
        "|:",
        "::",
        "||",
        "|]",
        "[|",
        "[1",
        "|2,4",
        "[1-9",
        "[",
        "]",
        "(",
        ")",
        "(3",
        "(9:2:7",
        "{",
        "}",
        "{/a}",
        "<",
        ">>>",
        "-",
        "\"",
        "\"Am\"",
        "\"^x\"",
        "!",
        "!fine!",
        "+",
        "&",
        "\\",
        "\\\n",
        "\n",
        "\n\n",
        "%",
        "%%",
        "[K:C#lyd",
        "[K:Fb^^c]",
        "[L:0/0]",
        "[M:99999/1]",
        "[Q:0=0]",
        "[V:3]",
        "\nw:a-b_*|~c\n",
        "\nP:A\n",
        "\nX:1\n",
        "Z99999",
        "^^^__=",
        "c////////",
        "C9999999999/9999999999",
    ];
    let at = random.below(bytes.len() + 1);
    let line = |bytes: &[u8], from: usize| {
        let end = |byte: &u8| *byte == b'\n';
        let start = bytes[..from].iter().rposition(end).map_or(0, |before| before + 1);
        start..bytes[from..].iter().position(end).map_or(bytes.len(), |after| from + after + 1)
    };
    match random.below(6) {
        0..=2 => {
            let times = if random.one_in(8) { 500 } else { 1 };
            bytes.splice(at..at, random.pick(&SIGNS).repeat(times).into_bytes());
        }
        3 => {
            let Some(digit) = bytes[at..].iter().position(u8::is_ascii_digit) else { return };
            let digits = bytes[at + digit..].iter().take_while(|byte| byte.is_ascii_digit()).count();
            bytes.splice(at + digit..at + digit + digits, random.pick(&EXTREMES).bytes());
        }
        4 => drop(bytes.drain(line(bytes, at))),
        _ => {
            let line = bytes[line(bytes, at)].to_vec();
            let to = random.below(bytes.len() + 1);
            bytes.splice(to..to, line.repeat(if random.one_in(8) { 40 } else { 1 }));
        }
    }
}

/// Returns the place after the first end tag that has the name of a start tag, if it is near; for the tag of an empty
/// element, returns the place after the tag.
fn element_end(bytes: &[u8], open: usize, close: usize) -> Option<usize> {
    if bytes[open..close].ends_with(b"/>") {
        return Some(close);
    }
    let name: Vec<u8> = bytes[open + 1..close].iter().copied().take_while(u8::is_ascii_lowercase).collect();
    let end = [b"</", name.as_slice(), b">"].concat();
    let found = bytes[close..].windows(end.len()).take(4000).position(|window| window == end)?;
    Some(close + found + end.len())
}

/// Damages a MIDI file: changes its header or the length of a track, appends the tracks of another file, or inserts
/// events.
fn chunks(bytes: &mut Vec<u8>, other: &[u8], random: &mut Random) {
    const EVENTS: [&[u8]; 16] = [
        &[0, 0x90, 60, 80],
        &[0, 0x90, 60, 0],
        &[0x83, 0x60, 0x80, 60, 0],
        &[0xFF, 0xFF, 0xFF, 0x7F, 0x90, 127, 1],
        &[0, 0xB0, 123, 0],
        &[0, 0xC0, 127],
        &[0, 0xE0, 127, 127],
        &[0, 0xFF, 0x2F, 0],
        &[0, 0xFF, 0x51, 3, 0, 0, 0],
        &[0, 0xFF, 0x51, 3, 0xFF, 0xFF, 0xFF],
        &[0, 0xFF, 0x58, 4, 1, 7, 24, 8],
        &[0, 0xFF, 0x58, 4, 255, 0, 24, 8],
        &[0, 0xFF, 0x59, 2, 0x80, 9],
        &[0, 0xFF, 0x05, 0xFF, 0xFF, 0xFF, 0x7F],
        &[0, 0xF0, 0xFF, 0x7F],
        &[0, 0xF4],
    ];
    match random.below(5) {
        // Changes the format, the number of tracks or the division.
        0 => {
            let at = 8 + random.below(6);
            if let Some(byte) = bytes.get_mut(at) {
                *byte = *random.pick(&[0, 1, 2, 3, 0x7F, 0x80, 0xE2, 0xE8, 0xFF]);
            }
        }
        // Changes the length of a chunk.
        1 => {
            let places: Vec<usize> = bytes
                .windows(4)
                .enumerate()
                .filter(|(_, name)| *name == b"MTrk")
                .map(|(at, _)| at + 4)
                .collect();
            let Some(&at) = places.get(random.below(places.len())) else { return };
            let length = *random.pick(&[0_u32, 1, 7, 0xFF, 0xFFFF, u32::MAX]);
            let end = (at + 4).min(bytes.len());
            bytes.splice(at..end, length.to_be_bytes());
        }
        // Appends the tracks of another file.
        2 => {
            let chunk = other.windows(4).position(|name| name == b"MTrk").map_or(other, |at| &other[at..]);
            bytes.extend(chunk);
        }
        // Inserts an event anywhere, perhaps many times.
        _ => {
            let at = random.below(bytes.len() + 1);
            let times = if random.one_in(8) { 500 } else { 1 };
            bytes.splice(at..at, random.pick(&EVENTS).repeat(times));
        }
    }
}
