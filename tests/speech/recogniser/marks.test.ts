import { beforeAll, describe, expect, it } from 'vitest';
import { openLibrary } from '../../../app/library/library.ts';
import { makeChecklist } from '../../../app/skills/checklist.ts';
import { asScript, loadNarrations, loadNegatives } from '../narration.ts';
import { makeNoise, mix } from '../noise.ts';
import { Ear } from '../bench/recognise.ts';
import {
  expectedMarks,
  rates,
  scoreClocks,
  scoreCounts,
  scoreCredits,
  scoreNumbers,
} from '../bench/score.ts';
import { synthesize } from '../synthesize.ts';
import type { VoiceId } from '../voices.ts';

/**
 * The everyday part of the speech corpus: a few narrations through the real chain. What must never happen is asserted in full;
 * how much must be heard, a little below what `npm run bench:speech` measured, so that a step back shows.
 */

/** Hearing some minutes of sound takes a while on a busy machine; the first time, voices have to be spoken as well. */
const PATIENCE = 180_000;

const [narrations, library] = await Promise.all([loadNarrations(), openLibrary()]);
let ear: Ear;
beforeAll(async () => {
  ear = await Ear.open(library.lexicon);
}, PATIENCE);

async function hear(id: string, voice: VoiceId, snr: number | null) {
  const narration = narrations.find((n) => n.id === id)!;
  const checklist = makeChecklist(
    library.skills.get(narration.skill)!,
    library.lexicon,
    library.rules,
    narration.variants,
  );
  const spoken = await synthesize(narration, voice);
  const samples =
    snr === null
      ? spoken.samples
      : mix(spoken.samples, await makeNoise('tap', spoken.samples.length, 1, voice), snr);
  const { assessment } = await ear.mark(samples, checklist);
  const credits = scoreCredits(assessment.steps, expectedMarks(checklist.steps, spoken), spoken.lines);
  return {
    ...credits,
    recall: rates(credits.hits.length, credits.missed.length, 0).recall,
    clocks: scoreClocks(checklist.steps, spoken, assessment),
    counts: scoreCounts(spoken, assessment),
    numbers: scoreNumbers(spoken, assessment),
    passed: assessment.result.passed,
  };
}

describe('a narration heard by the real chain', () => {
  it.each([
    // Said in near future and "would". Clean speech is in the tests below.
    ['hw-74-near-future-trucker', 'joe', 10, 0.7],
  ] as const)(
    '%s by %s at %s dB: credits what is said and nothing else',
    async (id, voice, snr, least) => {
      const { wrong, recall } = await hear(id, voice, snr);
      expect(wrong).toEqual([]);
      expect(recall).toBeGreaterThanOrEqual(least);
    },
    PATIENCE,
  );

  it.each([['hw-06-scrub-19-5', 'flite-slt', 10]] as const)(
    '%s by %s at %s dB: never passes a scrub that is too short',
    async (id, voice, snr) => {
      const { wrong, clocks, passed } = await hear(id, voice, snr);
      expect(wrong.filter((w) => w.critical)).toEqual([]);
      expect(clocks.map((c) => [c.enough, c.met])).toEqual([[false, false]]);
      expect(passed).toBe(false);
    },
    PATIENCE,
  );

  it(
    'rom-05-two-of-three by joe: never believes a third repetition',
    async () => {
      const { wrong, counts, recall } = await hear('rom-05-two-of-three', 'joe', null);
      expect(wrong).toEqual([]);
      expect(recall).toBeGreaterThanOrEqual(0.85);
      expect(counts.filter((c) => c.heard > c.truth)).toEqual([]);
    },
    PATIENCE,
  );

  it.each([['resp-15-numbers', 'joe', 10]] as const)(
    '%s by %s at %s dB: never takes down another number',
    async (id, voice, snr) => {
      const { wrong, numbers } = await hear(id, voice, snr);
      expect(wrong.filter((w) => w.critical)).toEqual([]);
      expect(numbers.map((n) => n.verdict)).not.toContain('wrong');
    },
    PATIENCE,
  );
});

describe('talk that is no rehearsal', () => {
  it(
    'credits no critical step',
    async () => {
      const checklist = makeChecklist(library.skills.get('hand-washing')!, library.lexicon, library.rules);
      const talk = (await loadNegatives()).find((n) => n.id === 'about-the-trade')!;
      const { samples } = await synthesize(asScript(talk), 'joe');
      const { assessment } = await ear.mark(samples, checklist);
      const none = new Map(checklist.steps.map(({ id }) => [id, 'none'] as const));
      const { wrong } = scoreCredits(assessment.steps, none, []);
      expect(wrong.filter((w) => w.critical)).toEqual([]);
      expect(wrong.length).toBeLessThanOrEqual(1);
    },
    PATIENCE,
  );
});
