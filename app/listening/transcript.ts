import { SILENCE } from '../run/narration.ts';
import { heardClearly, type Utterance } from '../language/utterance.ts';

/**
 * A transcript that another program or a person wrote, as utterances to be marked: WebVTT (W3C), SubRip, or plain text with one
 * saying a line. Libraries for these formats leave out what they cannot read without a word; here a fault is told with its line.
 */

export type TranscriptKind = 'vtt' | 'srt' | 'txt';

/** A transcript that cannot be read: what is wrong, in which line, and what to do. */
export class BadTranscript extends Error {
  override readonly name = 'BadTranscript';
}

export interface Transcript {
  readonly utterances: readonly Utterance[];
  /** When the last one ends, in seconds. */
  readonly seconds: number;
  /** Remarks for the user, in whole sentences. */
  readonly warnings: readonly string[];
}

/** Seconds beyond which a transcript is not that of a rehearsal. */
const LONGEST = 2 * 60 * 60;

/** "1:02:03.004 --> 00:05,100", hours and a cue's settings optional; SubRip has a comma where WebVTT has a full stop. */
const TIMES =
  /^\s*(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{1,3})\s*-->\s*(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{1,3})(?:\s.*)?$/;

/** Blocks of WebVTT that hold no speech. */
const NO_SPEECH = /^(WEBVTT|NOTE|STYLE|REGION)\b/;

const ENTITIES: Readonly<Record<string, string>> = {
  '&amp;': '&',
  '&lt;': '<',
  '&gt;': '>',
  '&nbsp;': ' ',
  '&lrm;': '',
  '&rlm;': '',
};

/**
 * Reads a transcript. Pure.
 *
 * @param file its name, for messages
 * @throws {BadTranscript} it is empty, or a line is not what its format asks for
 */
export function readTranscript(file: string, kind: TranscriptKind, text: string): Transcript {
  const lines = text.replace(/^\uFEFF/, '').split(/\r\n|\r|\n/);
  if (text.includes('\u0000'))
    throw new BadTranscript(`${file} is no text file. Give a transcript in UTF-8.`);
  const transcript = kind === 'txt' ? untimed(lines) : timed(file, kind, lines);
  if (transcript.utterances.length === 0)
    throw new BadTranscript(`${file} holds no words. Give a transcript of what was said.`);
  if (transcript.seconds > LONGEST)
    throw new BadTranscript(
      `${file} lasts longer than two hours, which no rehearsal does. Cut out the part to be marked.`,
    );
  return transcript;
}

function untimed(lines: readonly string[]): Transcript {
  let now = 0;
  const utterances: Utterance[] = [];
  for (const line of lines.map((raw) => raw.trim()).filter((said) => said !== '')) {
    const heard = heardClearly(utterances.length, line, now);
    utterances.push(heard);
    now = heard.end + SILENCE;
  }
  return {
    utterances,
    seconds: utterances.at(-1)?.end ?? 0,
    warnings: [
      'This transcript has no times. They are estimated from the number of words, so what is timed says nothing here.',
    ],
  };
}

function timed(file: string, kind: 'vtt' | 'srt', lines: readonly string[]): Transcript {
  const fault = (at: number, what: string): BadTranscript =>
    new BadTranscript(`${file}, line ${at + 1}: ${what}`);
  if (kind === 'vtt' && !/^WEBVTT(\s|$)/.test(lines[0] ?? ''))
    throw fault(0, 'a WebVTT file begins with the word WEBVTT. Save it as WebVTT, or call it .srt or .txt.');
  const utterances: Utterance[] = [];
  let last = 0;
  const line = (at: number): string => lines[at] ?? '';
  for (let at = 0; at < lines.length; at++) {
    if (line(at).trim() === '') continue;
    if (kind === 'vtt' && NO_SPEECH.test(line(at))) {
      while (line(at).trim() !== '') at++;
      continue;
    }
    // A name or a number may stand above the times.
    if (!line(at).includes('-->')) at++;
    const found = TIMES.exec(line(at));
    if (!found)
      throw fault(
        Math.min(at, lines.length - 1),
        'here times such as 00:00:01.500 --> 00:00:04.000 are expected.',
      );
    const start = secondsOf(found.slice(1, 5));
    const end = secondsOf(found.slice(5, 9));
    if (end < start) throw fault(at, 'this saying ends before it begins. Mend its times.');
    if (start < last) throw fault(at, 'this saying begins before the one above it. Put them in order.');
    last = start;
    const said: string[] = [];
    while (line(at + 1).trim() !== '') said.push(line((at += 1)));
    const words = plain(said.join(' '));
    if (words !== '') utterances.push(heardClearly(utterances.length, words, start, end));
  }
  return { utterances, seconds: Math.max(0, ...utterances.map((u) => u.end)), warnings: [] };
}

const secondsOf = ([hours = '0', minutes, seconds, fraction = '']: readonly string[]): number =>
  Number(hours) * 3600 + Number(minutes) * 60 + Number(seconds) + Number(fraction.padEnd(3, '0')) / 1000;

/** A cue's text without its tags ("<v Kim>") and with its entities as the letters they stand for. */
const plain = (text: string): string =>
  text
    .replace(/<[^>]*>/g, '')
    .replace(/&(amp|lt|gt|nbsp|lrm|rlm);/g, (entity) => ENTITIES[entity] ?? entity)
    .replace(/\s+/g, ' ')
    .trim();
