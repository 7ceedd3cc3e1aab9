import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BadTranscript, readTranscript } from './transcript.ts';

const texts = (kind: 'vtt' | 'srt' | 'txt', text: string): (string | number)[][] =>
  readTranscript('talk', kind, text).utterances.map((u) => [u.start, u.end, u.text]);

describe('a transcript', () => {
  it('is read from WebVTT as its specification shows it: names, settings, notes, tags, entities', () => {
    // The constructs of W3C's "WebVTT: The Web Video Text Tracks Format", sections 1 and 4, with words of our own.
    const vtt = [
      '\uFEFFWEBVTT - rehearsal', '', 'NOTE written by hand', 'over two lines', '', 'STYLE', '::cue { color: lime }', '',
      '00:01.500 --> 00:04.000 align:start line:0', '<v Kim>I wet my hands &amp; wrists.', '',
      'soap', '01:00:05.000 --> 01:00:07.250', '- Soap <i>goes</i>', 'on.', '',
    ].join('\r\n'); // prettier-ignore
    expect(texts('vtt', vtt)).toEqual([
      [1.5, 4, 'I wet my hands & wrists.'],
      [3605, 3607.25, '- Soap goes on.'],
    ]);
  });

  it('is read from SubRip, with numbers and commas', () => {
    const srt =
      '1\n00:00:01,000 --> 00:00:02,500\nI knock.\n\n2\n00:00:03,000 --> 00:00:04,000\nHello, Mrs. Alder.\n';
    expect(texts('srt', srt)).toEqual([
      [1, 2.5, 'I knock.'],
      [3, 4, 'Hello, Mrs. Alder.'],
    ]);
  });

  it('has estimated times where it is plain text, and says so', () => {
    const read = readTranscript('talk.txt', 'txt', 'I knock.\n\n  I wet my hands.  \n');
    expect(read.utterances.map((u) => u.text)).toEqual(['I knock.', 'I wet my hands.']);
    expect(read.utterances[1]!.start).toBeGreaterThan(read.utterances[0]!.end);
    expect(read.warnings.join()).toContain('estimated');
  });

  it.each([
    ['vtt', '00:01.000 --> 00:02.000\nHello', /line 1: a WebVTT file begins/],
    ['vtt', 'WEBVTT\n\nHello there\nand more\n', /line 4: here times/],
    ['srt', '1\n00:00:05,000 --> 00:00:04,000\nHello', /line 2: this saying ends before/],
    [
      'srt',
      '1\n00:00:05,000 --> 00:00:06,000\nA\n\n2\n00:00:01,000 --> 00:00:02,000\nB',
      /line 6: this saying begins/,
    ],
    ['srt', '1', /line 1: here times/],
    ['txt', ' \n\n', /holds no words/],
    ['txt', 'RIFF\u0000\u0001', /no text file/],
  ] as const)('that is broken (%s, %j) is told with its line', (kind, text, message) => {
    expect(() => readTranscript('talk', kind, text)).toThrow(message);
    expect(() => readTranscript('talk', kind, text)).toThrow(BadTranscript);
  });

  it('is read or refused with a message, whatever is in it', () => {
    const line = fc.oneof(
      fc.string(),
      fc.constantFrom('', 'WEBVTT', '00:00:01.000 --> 00:00:02.000', 'NOTE', '1', 'I knock.'),
    );
    fc.assert(
      fc.property(fc.constantFrom('vtt', 'srt', 'txt'), fc.array(line, { maxLength: 12 }), (kind, lines) => {
        try {
          const { utterances } = readTranscript('talk', kind, lines.join('\n'));
          utterances.forEach((u, i) => expect(u.id).toBe(i));
        } catch (error) {
          expect(error).toBeInstanceOf(BadTranscript);
        }
      }),
    );
  });
});
