// The functions of the package. The answers equal the output of `breathline ... --json`; packaging/npm writes
// answers.d.ts from their schema.

import type {Check, Notes, Suggest} from "./answers.js";

export * from "./answers.js";

/** A tune: the bytes of a MIDI, MusicXML or ABC file, or ABC as a string. */
export type TuneFile = Uint8Array | ArrayBuffer | string;

/** The options, under the names that the answers use. A missing option has the command's default. */
export interface Options {
  /** The name of a tune without a title. */
  name?: string;
  /** The tune to take from a file with several tunes: its number, as in "12", or a part of its title. */
  tune?: string;
  /** The part that has the melody, counted from 1. */
  part?: number;
  /** The voice of that part, counted from 1. */
  voice?: number;
  /** Write out repeats in the order of performance. */
  unfold?: boolean;
  /** The key of the tune, as in "G", "E minor" or "D Dorian". */
  key?: string;
  /** The tempo at the beginning, 20 to 500 quarters a minute. */
  tempo?: number;
  /** The player's level. */
  player?: "beginner" | "improver" | "advanced";
  /** The bends that the player can play. */
  bends?: "none" | "draw" | "all" | "over";
  /** The harps to try, as in ["C", "low-F", "Dm:natural-minor"]; without this option, the twelve standard harps. */
  harps?: string[];
  /** The style, which sets the price of a bend. */
  style?: "plain" | "blues" | "folk";
  /** Whether the tune may be played in any key. */
  any_key?: boolean;
  /** Only this position. */
  position?: number;
  /** Only ways that move the tune up by this number of octaves, or down if it is negative. */
  octave?: number;
  /** The pinned holes, each as bar, beat and hole, as in "3:2=-2". */
  pins?: string[];
  /** Only ways that keep most notes in this part of the harp. */
  register?: "low" | "middle" | "high";
  /** Leave out no note that can be played, and put the ways that play every note first. */
  every_note?: boolean;
  /** The changes that the best way may make to the tune. */
  changes?: "none" | "few" | "needed";
  /** How the tab in files tells blow from draw. */
  tab_style?: "signed" | "plus" | "arrows" | "letters" | "parentheses" | "circled" | "rows";
  /** The mark for each half step of a bend, in files. */
  bend_mark?: "'" | "/" | "b" | "steps";
  /** The mark of an overblow or overdraw, in files. */
  over_mark?: "o" | "degree" | "names";
  /** The row of the ranking that the files show, from 0; the best row if the ranking is shorter. */
  row?: number;
}

/** The form of a file. MusicXML, ABC and MIDI are bytes; the other forms are text, and SVG has a file for each page. */
export type Form = "musicxml" | "abc" | "midi" | "svg" | "text" | "page" | "pins";

/** A file to save. */
export interface File {
  /** The ending of its name, as in "mid" or "2.svg". */
  ending: string;
  /** Its media type. */
  kind: string;
  content: string | Uint8Array;
}

/** One tune of a file with several tunes. */
export interface Listed {
  /** The value of {@link Options.tune} that chooses this tune. */
  choice: string;
  title: string | null;
  key: string | null;
}

/** An error in a tune or an option, as a line for a musician. */
export class BreathlineError extends Error {
  /** The tunes to choose from, if the file has several and {@link Options.tune} does not choose exactly one. */
  tunes?: Listed[];
}

/** Ranks the ways to play a tune: the answer of `breathline suggest --json`. */
export function analyse(tune: TuneFile, options?: Options): Promise<Suggest>;

/** Returns the same answer as text, byte for byte as the command prints it. */
export function analyseText(tune: TuneFile, options?: Options): Promise<string>;

/** Shows a tune as it was read: the answer of `breathline notes --json`. */
export function notes(tune: TuneFile, options?: Options): Promise<Notes>;

/** Checks a typed tab for a harp, as in "C": the answer of `breathline check --tab --json`. */
export function check(tune: TuneFile, tab: string, harp: string, options?: Options): Promise<Check>;

/**
 * Writes a way to play the tune, the best or that of {@link Options.row}, as files: the part for a notation program,
 * the sheet or the tab. Also writes the page to practise from, which has the first rows, and the pins.
 */
export function files(tune: TuneFile, form: Form, options?: Options): Promise<File[]>;
