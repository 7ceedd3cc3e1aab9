import { describe, expect, it } from 'vitest';
import { VoiceOverNoiseSchema, type StepMark } from '../marking/assessment.ts';
import { RehearsalEventSchema, type Loudness } from '../marking/events.ts';
import { foldRun, NO_RUN } from '../run/runState.ts';
import { BEFORE, fold } from '../marking/state.ts';
import { comfortableFrom } from './expectation.ts';
import { RECALL_TABLES } from './recallTable.ts';
import { describeVoiceOverNoise, loudnessWithin, voiceOverNoise } from './voiceOverNoise.ts';

const TABLE = RECALL_TABLES[0]!;
const COMFORTABLE = comfortableFrom(TABLE)!;
/** A voice, a tap that is no trouble beside it, and one that is. */
const VOICE = -30;
const SOFT = VOICE - COMFORTABLE - 5;
const LOUD = VOICE - COMFORTABLE + 4;

const noise = (from: number, to: number, level: number): Loudness => ({
  type: 'loudness',
  of: 'noise',
  from,
  to,
  level,
});
const speech = (from: number, to: number, level = VOICE): Loudness => ({
  type: 'loudness',
  of: 'speech',
  from,
  to,
  level,
});

function mark(
  id: string,
  outcome: StepMark['outcome'],
  said: readonly [number, number] | null = null,
): StepMark {
  const evidence = said && { utterance: 0, text: id, start: said[0], end: said[1], score: 1 };
  return { id, text: id, critical: false, outcome, at: said?.[0] ?? null, evidence, manner: null, note: '' };
}

const loudness = [
  noise(0, 9, SOFT),
  speech(10, 12),
  noise(12, 28, LOUD),
  speech(30, 32),
  noise(32, 40, SOFT),
  speech(41, 43),
];
const span = { from: 0, to: 43 };
const explained = (...marks: readonly StepMark[]) =>
  voiceOverNoise(loudness, marks, span, TABLE.listening)!.explains;

describe('a voice over the noise beside it', () => {
  it('is told with the loudest noise and how long it was too loud', () => {
    const told = voiceOverNoise(loudness, [], span, TABLE.listening)!;
    expect(VoiceOverNoiseSchema.parse(told)).toEqual(told);
    expect(told).toMatchObject({
      distance: expect.closeTo(COMFORTABLE + 5, 6),
      least: expect.closeTo(COMFORTABLE - 4, 6),
      loudSeconds: 16,
      ofSeconds: 33,
    });
    expect(describeVoiceOverNoise(told).join(' ')).toMatch(
      /Where the tap was loudest.* For 0:16 of 0:33 min .* too loud/,
    );
  });

  it('explains what was due beside the loud tap, and nothing else', () => {
    const [first, second, third] = [
      mark('a', 'heard', [10, 12]),
      mark('c', 'heard', [30, 32]),
      mark('e', 'heard', [41, 43]),
    ];
    expect(explained(first, mark('b', 'not heard'), second, mark('d', 'not heard'), third)).toEqual(['b']);
    expect(explained(mark('z', 'not heard'), first)).toEqual([]);
  });

  it('explains an unsure step by the noise beside its words', () => {
    expect(explained(mark('a', 'unsure', [30, 32]))).toEqual(['a']);
    expect(explained(mark('a', 'unsure', [1, 2]))).toEqual([]);
  });

  it('explains no step whose words were heard and did not do, nor one whose place is unknown', () => {
    expect(
      explained(mark('a', 'heard', [10, 12]), mark('b', 'not heard', [20, 22]), mark('c', 'heard', [30, 32])),
    ).toEqual([]);
    expect(
      explained(mark('a', 'heard', [30, 32]), mark('b', 'not heard'), mark('c', 'heard', [10, 12])),
    ).toEqual([]);
    expect(explained(mark('a', 'out of order', [20, 22]), mark('b', 'needs eyes'))).toEqual([]);
  });

  it('calls nothing too loud for what was never measured', () => {
    const told = voiceOverNoise(loudness, [mark('a', 'unsure', [30, 32])], span, 'another ear')!;
    expect(told).toMatchObject({ comfortable: null, loudSeconds: 0, explains: [] });
    expect(describeVoiceOverNoise(told)[1]).toMatch(/has not been measured/);
  });

  it('is not told without both, as of a journal of old', () => {
    expect(voiceOverNoise([], [], span, TABLE.listening)).toBeNull();
    expect(voiceOverNoise([speech(1, 2)], [], span, TABLE.listening)).toBeNull();
    expect(voiceOverNoise([noise(1, 2, SOFT)], [], span, TABLE.listening)).toBeNull();
  });

  it('says in short when all was well', () => {
    const told = voiceOverNoise([noise(0, 9, SOFT), speech(10, 12)], [], span, TABLE.listening)!;
    expect(describeVoiceOverNoise(told)).toHaveLength(2);
    expect(describeVoiceOverNoise(told).join(' ')).toMatch(
      /^Where the tap was loudest, your voice was \S+ louder than the tap \(\d+ dB\)\. That is loud enough/,
    );
  });
});

describe('stretches of loudness', () => {
  it('are events of the journal', () => {
    for (const each of loudness) expect(RehearsalEventSchema.parse(each)).toEqual(each);
    expect(RehearsalEventSchema.safeParse({ ...loudness[0], of: 'music' }).success).toBe(false);
  });

  it('change nothing of a rehearsal or a test', () => {
    const begun = [{ type: 'began', skill: 'any', variants: {} }] as const;
    const state = begun.reduce(fold, BEFORE);
    expect(loudness.reduce(fold, state)).toBe(state);
    const test = begun.reduce(foldRun, NO_RUN);
    expect(loudness.reduce(foldRun, test)).toEqual(test);
  });

  it('belong to the skill of a test in whose time they lie', () => {
    expect(loudnessWithin(loudness, { from: 12, to: 32 }).map(({ from }) => from)).toEqual([12, 30]);
  });
});
