//! The notes that sound while a track is read: a queue for each channel and key, the oldest note first.

/// A MIDI channel and key.
pub(super) type Key = (u8, u8);

/// Queues for all channels and keys. Links are indices plus one; zero means no link, so that a new table can be zeroed
/// memory, which is cheap.
pub(super) struct Sounding {
    oldest: Vec<u32>,
    newest: Vec<u32>,
    /// For each note, the link to the next note in its queue.
    next: Vec<u32>,
}

/// The number of keys on all channels.
const KEYS: usize = 16 * 128;

impl Sounding {
    pub(super) fn new() -> Sounding {
        Sounding { oldest: vec![0; KEYS], newest: vec![0; KEYS], next: Vec::new() }
    }

    /// Appends a note that begins to sound. `note` must increase from one call to the next.
    pub(super) fn push(&mut self, key: Key, note: usize) {
        let (slot, link) = (slot(key), u32::try_from(note + 1).unwrap_or(0));
        self.next.resize(note + 1, 0);
        match self.newest[slot] {
            0 => self.oldest[slot] = link,
            before => self.next[before as usize - 1] = link,
        }
        self.newest[slot] = link;
    }

    /// Removes and returns the oldest sounding note of a key, when that note ends.
    pub(super) fn pop(&mut self, key: Key) -> Option<usize> {
        let slot = slot(key);
        let note = (self.oldest[slot] as usize).checked_sub(1)?;
        self.oldest[slot] = self.next[note];
        if self.oldest[slot] == 0 {
            self.newest[slot] = 0;
        }
        Some(note)
    }
}

fn slot((channel, key): Key) -> usize {
    usize::from(channel & 0x0F) << 7 | usize::from(key & 0x7F)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_a_key_the_oldest_note_comes_first() {
        let mut sounding = Sounding::new();
        for (note, key) in [(0, (0, 60)), (1, (1, 60)), (2, (0, 60)), (4, (0, 60))] {
            sounding.push(key, note);
        }
        assert_eq!(
            [(0, 60), (0, 60), (1, 60), (1, 60)].map(|key| sounding.pop(key)),
            [Some(0), Some(2), Some(1), None]
        );
        sounding.push((0, 60), 5);
        assert_eq!([(0, 60); 3].map(|key| sounding.pop(key)), [Some(4), Some(5), None]);
    }
}
