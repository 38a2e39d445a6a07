"""Tests of the scribe: it finds mistakes in a source, plays repeats and endings in order, and writes notes and words.

    python3 -m unittest discover corpus
"""

import unittest

from scribe.midi import midi, variable
from scribe.musicxml import musicxml
from scribe.read import read
from scribe.tune import SourceError, played

HEAD = "T:Test\nR:air\nS:none\nM:4/4\nL:1/4\nQ:1/4=100\nK:{key}\n"


def tune(music, key="C"):
    return read(HEAD.format(key=key) + music, "test")


def order(music):
    return [bar.number for bar in played(tune(music).bars)]


class Bars(unittest.TestCase):
    def test_a_short_bar_is_found(self):
        with self.assertRaisesRegex(SourceError, "bar 2: 3 quarters, but 4/4 wants 4"):
            tune("CDEF | CDE | C4 |]")

    def test_a_long_bar_is_found(self):
        with self.assertRaisesRegex(SourceError, "bar 1: 5 quarters"):
            tune("CDEFG | C4 |]")

    def test_a_pickup_and_the_last_bar_make_one_bar(self):
        self.assertEqual([bar.number for bar in tune("G | CDEF | C3 |]").bars], [0, 1, 2])
        with self.assertRaisesRegex(SourceError, "together they should fill a bar"):
            tune("G | CDEF | C2 |]")

    def test_a_bar_cut_by_a_repeat_must_be_full_in_every_way_of_playing(self):
        tune("G | CDEF | C3 :: G | CDEF | C3 :|")
        with self.assertRaisesRegex(SourceError, "bar"):
            tune("G | CDEF | C3 :: GG | CDEF | C2 :|")

    def test_the_halves_of_a_cut_bar_have_one_number(self):
        bars = tune("G | CDEF | C3 :: G | CDEF | C3 :|").bars
        self.assertEqual([bar.number for bar in bars], [0, 1, 2, 2, 3, 4])
        self.assertIn('number="X2" implicit="yes"', musicxml(tune("G | CDEF | C3 :: G | CDEF | C3 :|")))


class Order(unittest.TestCase):
    def test_endings(self):
        self.assertEqual(order("|: C4 |1 D4 :|2 E4 || F4 |]"), [1, 2, 1, 3, 4])

    def test_two_repeats(self):
        self.assertEqual(order("C4 :: D4 | E4 :| F4 |]"), [1, 1, 2, 3, 2, 3, 4])

    def test_after_da_capo_no_repeat_is_taken_and_fine_ends(self):
        self.assertEqual(order("|: C4 | !fine!D4 :| E4 | !D.C.!F4 |]"), [1, 2, 1, 2, 3, 4, 1, 2])


class Notes(unittest.TestCase):
    def pitches(self, music, key="C"):
        return [str(note.pitch) for note in tune(music, key).notes]

    def test_an_accidental_holds_until_the_bar_line_and_in_its_octave(self):
        self.assertEqual(self.pitches("^FFff | F4 |]"), ["F#4", "F#4", "F5", "F5", "F4"])

    def test_the_key_signature_follows_the_mode(self):
        self.assertEqual(self.pitches("CFBE |]", "Ddor"), ["C4", "F4", "B4", "E4"])
        self.assertEqual(self.pitches("CFBE |]", "Dmix"), ["C4", "F#4", "B4", "E4"])
        self.assertEqual(self.pitches("CFBE |]", "Bb"), ["C4", "F4", "Bb4", "Eb4"])

    def test_lengths(self):
        self.assertEqual([str(note.length) for note in tune("C>D E/F/G | (3CDEz2 |]").notes],
                         ["3/2", "1/2", "1/2", "1/2", "1", "2/3", "2/3", "2/3", "2"])

    def test_a_tie_to_another_pitch_is_found(self):
        with self.assertRaisesRegex(SourceError, "a tie leads from C4 to D4"):
            tune("C4- | D4 |]")

    def test_what_is_not_understood_is_not_passed_over(self):
        for music in ("CDE? |]", "!trill!C4 |]", "[CEG]4 |]"):
            with self.assertRaises(SourceError, msg=music):
                tune(music)

    def test_a_chord_of_unknown_kind_is_found_when_it_is_written(self):
        with self.assertRaisesRegex(SourceError, "chord symbol 'Csus'"):
            musicxml(tune('"Csus"C4 |]'))


class Words(unittest.TestCase):
    def test_hyphens_and_melismas(self):
        lyrics = [note.lyrics.get(1) for note in tune("CDEF | C4 |]\nw: glo--ri-a_").notes]
        self.assertEqual([lyric and lyric.text for lyric in lyrics], ["glo", None, "ri", "a", None])
        self.assertEqual([lyric.hyphen_after for lyric in lyrics if lyric], [True, True, False])
        self.assertTrue(lyrics[3].extend)

    def test_too_few_and_too_many_syllables_are_found(self):
        with self.assertRaisesRegex(SourceError, "3 syllables for the 4 notes"):
            tune("CDEF |]\nw: one two three")
        with self.assertRaisesRegex(SourceError, "more syllables than the 4 notes"):
            tune("CDEF |]\nw: one two three four five")


class Midi(unittest.TestCase):
    def test_numbers_of_variable_length(self):
        # The examples in the Standard MIDI Files specification 1.0.
        for number, content in ((0, "00"), (0x7F, "7f"), (0x80, "8100"), (0x3FFF, "ff7f"), (0x4000, "818000")):
            self.assertEqual(variable(number).hex(), content)

    def test_a_pickup_has_a_meter_of_its_own(self):
        content = midi(tune("G | CDEF | C3 |]"))
        self.assertIn(bytes.fromhex("ff580401021808"), content)
        self.assertIn(bytes.fromhex("ff580404021808"), content)


if __name__ == "__main__":
    unittest.main()
