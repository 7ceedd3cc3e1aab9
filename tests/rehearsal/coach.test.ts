import { describe, expect, it } from 'vitest';
import { openLibrary } from '../../app/library/library.ts';
import { bestSaying, nudge, replyTo, sayResult, timeCall } from '../../app/run/coach.ts';
import { BEFORE, fold } from '../../app/marking/state.ts';
import { timeLeft } from '../../app/marking/testClock.ts';
import { nudgeDue, shareNarrated, talkOf } from '../../app/run/talk.ts';
import { narrate, shipped } from './making/narrate.ts';
import { rehearse } from './making/rehearse.ts';

const { lexicon } = await openLibrary();
const lever = shipped('hand-washing');
const pedal = shipped('hand-washing', { tap: 'pedal' });
const leg = shipped('range-of-motion-leg');
const breaths = shipped('respirations');

const START = 'I am scrubbing all surfaces of my hands with friction.';

describe('the coach', () => {
  it('tells the time scrubbed as a lower bound, rounded down', async () => {
    const { state, now } = await rehearse(lever, [START, 12.9]);
    expect(replyTo(lever, state, 'scrub time', now)).toBe('About 12 seconds so far.');
    const sharp = await rehearse(lever, [START, 12]);
    expect(replyTo(lever, sharp.state, 'scrub time', sharp.now)).toBe('About 11 seconds so far.');
  });

  it('tells no time of a pause, and says when no clock runs', async () => {
    const { state, now } = await rehearse(lever, [START, 12.9, 'Pause.', 30]);
    expect(replyTo(lever, { ...state, ended: null }, 'scrub time', now)).not.toMatch(/[2-4]\d seconds/);
    expect(replyTo(lever, BEFORE, 'scrub time', 5)).toBe('No clock is running yet. Say when you start.');
    const over = await rehearse(lever, [START, 12.9, 'I throw the towel in the bin.', 40]);
    expect(replyTo(lever, over.state, 'scrub time', over.now)).toBe(
      'No clock is running. It was about 12 seconds.',
    );
  });

  it.each([
    [10, 'About 29 minutes left.'],
    [29 * 60 - 1, 'About 1 minute left.'],
    [29 * 60 + 1, 'Less than a minute is left.'],
    [31 * 60, 'The time is up.'],
  ])('after %d s says "%s"', (now, text) => {
    expect(replyTo(lever, BEFORE, 'time left', now)).toBe(text);
  });

  it('leaves pauses out of the time left, and knows that there may be no limit', () => {
    const events = [
      { type: 'paused', at: 60 },
      { type: 'resumed', at: 360 },
    ] as const;
    const state = events.reduce(fold, BEFORE);
    expect(timeLeft(lever.rules, state, 400)).toBe(30 * 60 - 100);
    const rules = { ...lever.rules };
    delete rules.minutes;
    expect(replyTo({ ...lever, rules }, state, 'time left', 500)).toBe(
      'There is no limit. You have taken 3 minutes so far.',
    );
  });

  it('calls the last five minutes, the last one and the end, once each', () => {
    const calls: string[] = [];
    for (let now = 0; now < 2000; now += 0.5) {
      const call = timeCall(lever, BEFORE, { from: now, to: now + 0.5 });
      if (call) calls.push(call);
    }
    expect(calls).toEqual(['5 minutes left.', '1 minute left.', 'The time is up.']);
  });

  it('names the critical steps missed at the end, and that it only hears', () => {
    const { marks } = narrate(lever, ['Getting some soap.']);
    const text = sayResult(lever, marks);
    expect(text).toContain('I heard 1 of 18 steps. 2 critical steps were not credited: Rub every surface');
    expect(text).toMatch(/does not pass yet.*your instructor decides\.$/);
  });

  it('never nudges with the same words twice running', () => {
    const first = nudge(BEFORE);
    const state = fold(BEFORE, { type: 'spoke', text: first, from: 1, to: 3 });
    expect(nudge(state)).not.toBe(first);
  });
});

describe('the best thing to say', () => {
  it('reads naturally for every step', () => {
    const all = [lever, pedal, leg, breaths].map((checklist) =>
      checklist.steps.map((step) => `${step.id}: ${bestSaying(checklist, lexicon, step) ?? '—'}`),
    );
    expect([...new Set(all.flat())].join('\n')).toMatchSnapshot();
  });

  it.each([lever, pedal, leg, breaths])('said step by step is heard for all of $skill.id', (checklist) => {
    const lines = checklist.steps.flatMap((step): (string | number)[] => {
      const saying = bestSaying(checklist, lexicon, step);
      if (saying === null) return [];
      // Numbers without their rivals are asked about, whoever says them.
      if (step.evidence.kind === 'reading') return [saying.replace('…', '16')];
      return step.evidence.kind === 'timed' ? [saying, step.evidence.atLeast + 2] : [saying];
    });
    const { marks } = narrate(checklist, lines);
    const missed = marks.steps.filter((m) => !['heard', 'needs eyes'].includes(m.outcome));
    const readings = checklist.steps.filter((s) => s.evidence.kind === 'reading').map((s) => s.id);
    expect(missed.map((m) => m.id)).toEqual(readings);
  });
});

describe('talk as you go', () => {
  it('finds the silences with their place, the longest first', async () => {
    const { state, now } = await rehearse(lever, [
      'Getting some soap.', 15, 'I work up a lather away from the running water.', 40,
      'Cleaning under my nails.', 3,
    ]); // prettier-ignore
    const { silences, narrated, of } = talkOf(lever, state, now);
    expect(silences.map((s) => [s.after, Math.round(s.to - s.from)])).toEqual([
      ['lather', 40],
      ['soap', 15],
    ]);
    expect(narrated).toBeCloseTo((3 + 10 + 4) * 0.35);
    expect(of).toBeCloseTo(now);
  });

  it('asks for no talk while a minute is counted, in a pause, or during the seconds of a scrub', async () => {
    const counted = await rehearse(breaths, ['Starting now.', 61, "Time's up."]);
    expect(talkOf(breaths, counted.state, counted.now).silences).toEqual([]);
    const paused = await rehearse(lever, [
      'Getting some soap.',
      'Pause.',
      50,
      'Go on.',
      'Cleaning under my nails.',
    ]);
    expect(talkOf(lever, paused.state, paused.now).silences).toEqual([]);
    const scrubbed = await rehearse(lever, [START, 29, 'Cleaning under my nails.']);
    expect(talkOf(lever, scrubbed.state, scrubbed.now).silences).toEqual([]);
    const long = await rehearse(lever, [START, 40, 'Cleaning under my nails.']);
    expect(talkOf(lever, long.state, long.now).silences).toMatchObject([{ after: 'scrub' }]);
  });

  it('tells the share narrated once there is something to tell, and not while a minute is counted', async () => {
    const { state, now } = await rehearse(lever, ['Getting some soap.', 0]);
    const live = { ...state, ended: null };
    expect(shareNarrated(lever, live, now + 5)).toBeNull();
    expect(shareNarrated(lever, live, 20)).toBeCloseTo((3 * 0.35) / 20);

    const count = await rehearse(breaths, ['Getting some soap.', 20, 'Starting now.', 0]);
    const counting = { ...count.state, ended: null };
    expect(shareNarrated(breaths, counting, count.now + 30)).toBeNull();
    const counted = await rehearse(breaths, ['Getting some soap.', 20, 'Starting now.', 61, "Time's up."]);
    expect(shareNarrated(breaths, counted.state, counted.now)).toBeGreaterThan(0);
  });

  it('nudges after a silence, more patiently each time, and not while a minute is counted', async () => {
    const open = async (checklist: typeof lever, line: string) => {
      const { state, now } = await rehearse(checklist, [line, 0]);
      return { state: { ...state, ended: null }, now };
    };
    const { state, now } = await open(lever, 'Getting some soap.');
    expect(nudgeDue(lever, state, now + 11)).toBe(false);
    expect(nudgeDue(lever, state, now + 13)).toBe(true);
    const nudged = fold(state, { type: 'spoke', text: nudge(state), from: now + 13, to: now + 15 });
    expect(nudgeDue(lever, nudged, now + 30)).toBe(false);
    expect(nudgeDue(lever, nudged, now + 40)).toBe(true);
    expect(nudgeDue(lever, fold(state, { type: 'paused', at: now + 1 }), now + 60)).toBe(false);

    const scrub = await open(lever, START);
    expect(nudgeDue(lever, scrub.state, scrub.now + 30)).toBe(false);
    expect(nudgeDue(lever, scrub.state, scrub.now + 33)).toBe(true);
    const count = await open(breaths, 'Starting now.');
    expect(nudgeDue(breaths, count.state, count.now + 100)).toBe(false);
  });
});
