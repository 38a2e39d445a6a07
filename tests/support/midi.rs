//! Builds MIDI files from bytes, both valid and broken.

/// The ticks per quarter in every file built here, unless a test says otherwise.
pub(crate) const QUARTER: u32 = 480;

/// The events of a track, without its chunk header.
#[derive(Clone, Default)]
pub(crate) struct Track(pub(crate) Vec<u8>);

#[allow(dead_code, reason = "each test file uses only a part of it")]
impl Track {
    pub(crate) fn new() -> Track {
        Track::default()
    }

    /// Adds any event, `delta` ticks after the previous one.
    pub(crate) fn event(mut self, delta: u32, bytes: &[u8]) -> Track {
        self.0.extend(number(delta));
        self.0.extend(bytes);
        self
    }

    /// Adds a meta event `delta` ticks after the previous event.
    pub(crate) fn meta(self, delta: u32, kind: u8, data: &[u8]) -> Track {
        let mut bytes = vec![0xFF, kind];
        bytes.extend(number(data.len() as u32));
        bytes.extend(data);
        self.event(delta, &bytes)
    }

    pub(crate) fn name(self, name: &str) -> Track {
        self.meta(0, 0x03, name.as_bytes())
    }

    pub(crate) fn time(self, delta: u32, beats: u8, power: u8) -> Track {
        self.meta(delta, 0x58, &[beats, power, 24, 8])
    }

    pub(crate) fn on(self, delta: u32, channel: u8, key: u8) -> Track {
        self.event(delta, &[0x90 | channel, key, 80])
    }

    pub(crate) fn off(self, delta: u32, channel: u8, key: u8) -> Track {
        self.event(delta, &[0x80 | channel, key, 64])
    }

    /// Adds notes one after another on channel 1, each with its length in ticks.
    pub(crate) fn notes(self, notes: &[(u8, u32)]) -> Track {
        notes.iter().fold(self, |track, &(key, length)| track.on(0, 0, key).off(length, 0, key))
    }

    /// Adds the end mark of a track.
    pub(crate) fn end(self) -> Track {
        self.meta(0, 0x2F, &[])
    }

    /// Returns the track as a chunk with the right length.
    pub(crate) fn chunk(self) -> Vec<u8> {
        let length = self.0.len() as u32;
        self.chunk_of(length)
    }

    /// Returns the track as a chunk that states the given length, true or not.
    pub(crate) fn chunk_of(self, length: u32) -> Vec<u8> {
        [b"MTrk", &length.to_be_bytes()[..], &self.0].concat()
    }
}

/// Writes a number with seven bits per byte.
fn number(value: u32) -> Vec<u8> {
    let mut bytes = vec![(value & 0x7F) as u8];
    let mut rest = value >> 7;
    while rest > 0 {
        bytes.insert(0, (rest & 0x7F) as u8 | 0x80);
        rest >>= 7;
    }
    bytes
}

/// Returns a header chunk with the given fields.
pub(crate) fn header(format: u16, tracks: u16, division: u16) -> Vec<u8> {
    let fields = [format, tracks, division].map(u16::to_be_bytes).concat();
    [b"MThd", &6_u32.to_be_bytes()[..], &fields].concat()
}

/// Makes a whole file of valid tracks.
#[allow(dead_code, reason = "each test file uses only a part of it")]
pub(crate) fn file(format: u16, tracks: &[Track]) -> Vec<u8> {
    let mut bytes = header(format, tracks.len() as u16, QUARTER as u16);
    for track in tracks {
        bytes.extend(track.clone().end().chunk());
    }
    bytes
}
