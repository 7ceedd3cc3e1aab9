import { beforeAll, describe, expect, it } from 'vitest';
import { openLibrary } from '../../app/library/library.ts';
import { makeChecklist, type Checklist } from '../../app/skills/checklist.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { BEFORE, fold, type State } from '../../app/marking/state.ts';
import { groupsOf, lanesOf, missedOf, practiseNext, sayingFor, transcriptOf } from './endView.ts';
import { replyTo } from '../../app/run/coach.ts';
import type { Lexicon } from '../../app/skills/skill.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { bytesOf } from '../end/sound.ts';
import { dialOf, isReadingCard, lastWords, latestOf, openOf, rowsOf } from './roomView.ts';
import { earconFor } from './earcons.ts';

let washing: Checklist;
let leg: Checklist;
let lexicon: Lexicon;

beforeAll(async () => {
  const library = await openLibrary();
  const { skills, rules } = library;
  lexicon = library.lexicon;
  washing = makeChecklist(skills.get('hand-washing')!, lexicon, rules);
  leg = makeChecklist(skills.get('range-of-motion-leg')!, lexicon, rules);
});

const evidence = (at: number, text = 'said', end = at + 1) => ({
  utterance: 0,
  text,
  start: at,
  end,
  score: 1,
});
const credited = (step: string, at: number): RehearsalEvent => ({
  type: 'credited',
  step,
  evidence: evidence(at),
});
const clock = (move: 'start' | 'halt' | 'stop' | 'doubt', at: number, uncertainty = 0.2): RehearsalEvent => ({
  type: 'clock',
  step: 'scrub',
  move,
  at,
  uncertainty,
  word: 0,
  evidence: evidence(at),
});
const after = (...events: RehearsalEvent[]): State => events.reduce(fold, BEFORE);
const rowOf = (state: State, id: string) => rowsOf(washing, state, null).find((row) => row.id === id)!;

describe('the rows of the room', () => {
  it('follow a step from open over tentative to heard, or to taken back', () => {
    const tentative: RehearsalEvent = { type: 'tentative', step: 'soap', text: 'take soap', at: 5 };
    expect(rowOf(BEFORE, 'soap').state).toBe('open');
    expect(rowOf(after(tentative), 'soap')).toMatchObject({ state: 'tentative', at: 5 });
    expect(rowOf(after(tentative, credited('soap', 4.5)), 'soap')).toMatchObject({ state: 'heard', at: 4.5 });
    const withdrawn: RehearsalEvent = { type: 'withdrawn', step: 'soap', text: 'take soap', at: 5 };
    const taken = rowOf(after(tentative, withdrawn), 'soap');
    expect(taken).toMatchObject({ state: 'withdrawn', at: 5 });
    expect(taken.note).not.toBe('');
    expect(rowOf(after(tentative, withdrawn, credited('soap', 9)), 'soap').state).toBe('heard');
  });

  it('never show a running or a short scrub as heard', () => {
    const begun = [credited('wet', 1), credited('soap', 2), clock('start', 3)];
    expect(rowOf(after(...begun), 'scrub').state).toBe('running');
    expect(rowOf(after(...begun, clock('stop', 22)), 'scrub').state).toBe('short');
    expect(rowOf(after(...begun, clock('stop', 23.2)), 'scrub').state).toBe('unsure');
    expect(rowOf(after(...begun, clock('stop', 24)), 'scrub').state).toBe('heard');
  });

  it('say what is out of order, and put the latest first', () => {
    const state = after(credited('soap', 1), credited('wet', 3), credited('greet', 4));
    expect(rowOf(state, 'wet').state).toBe('out of order');
    expect(latestOf(rowsOf(washing, state, null), 2).map(({ id }) => id)).toEqual(['greet', 'wet']);
  });

  it('never show a clock as running through a pause, nor what it had as enough', () => {
    const paused = after(credited('wet', 1), credited('soap', 2), clock('start', 3), {
      type: 'paused',
      at: 13,
    });
    expect(rowOf(paused, 'scrub').state).toBe('short');
    expect(dialOf(washing, paused, 90).kind).toBe('test');
    const long = after(credited('wet', 1), credited('soap', 2), clock('start', 3), {
      type: 'paused',
      at: 33,
    });
    expect(rowOf(long, 'scrub').state).toBe('heard');
  });

  it('leave what is still open, in order, and only what is tried again', () => {
    const rows = rowsOf(washing, after(credited('greet', 1)), new Set(['greet', 'soap', 'nails']));
    expect(rows.map(({ id }) => id)).toEqual(['greet', 'soap', 'nails']);
    expect(openOf(rows).map(({ id }) => id)).toEqual(['soap', 'nails']);
    expect(openOf(rowsOf(washing, BEFORE, null)).map(({ id }) => id)).not.toContain('no-contact');
  });
});

describe('the dial', () => {
  it('shows the test while nothing else runs, pauses left out', () => {
    const state = after(
      { type: 'commanded', command: 'begin', at: 10, evidence: null },
      { type: 'paused', at: 20 },
      { type: 'resumed', at: 50 },
    );
    expect(dialOf(washing, state, 70)).toMatchObject({ kind: 'test', seconds: 30, of: 1800 });
  });

  it('shows a running scrub by what is certain, and is full only when stopping now would pass', () => {
    const begun = after(clock('start', 10, 0.25));
    expect(dialOf(washing, begun, 20)).toMatchObject({ kind: 'timed', seconds: 9, of: 20, state: 'running' });
    for (let now = 29; now < 32; now += 0.05) {
      const dial = dialOf(washing, begun, now);
      const stopped = [clock('stop', now, 0.25)].reduce(fold, begun);
      const mark = markRehearsal(washing, stopped).steps.find(({ id }) => id === 'scrub')!;
      if (dial.kind === 'timed' && dial.state === 'reached') expect(mark.outcome).toBe('heard');
    }
    expect(dialOf(washing, begun, 31)).toMatchObject({ state: 'reached', share: 1 });
  });

  it('stands when something doubtful was said, and while the clock is halted', () => {
    const doubtful = after(clock('start', 10), clock('doubt', 15));
    expect(dialOf(washing, doubtful, 40)).toMatchObject({ state: 'doubtful', seconds: 4 });
    const halted = after(clock('start', 10), clock('halt', 18));
    expect(dialOf(washing, halted, 40)).toMatchObject({ state: 'halted', seconds: 7 });
    expect(dialOf(washing, after(clock('start', 10), clock('stop', 18)), 40).kind).toBe('test');
  });

  it('shows a count under way, of the movement that has fewest', () => {
    const step = leg.steps.find(({ evidence: { kind } }) => kind === 'counted')!;
    const joint = step.evidence.kind === 'counted' ? step.evidence.joint : '';
    const moved: RehearsalEvent = {
      type: 'movement',
      step: step.id,
      joint,
      form: 'full',
      evidence: evidence(1),
    };
    const one: RehearsalEvent = { type: 'repetition', count: 1, evidence: evidence(2) };
    expect(dialOf(leg, after(moved, one), 3)).toMatchObject({
      kind: 'counted',
      step: step.id,
      counted: 1,
      of: 3,
    });
  });

  it('writes minutes', () =>
    expect([minutes(75.4), minutes(-1), minutes(600)]).toEqual(['1:15', '0:00', '10:00']));
});

describe('the foot of the room', () => {
  it('keeps the last whole words of a long saying', () => {
    expect(lastWords('I wet my hands', 20)).toBe('I wet my hands');
    expect(lastWords('and now I wet my hands', 12)).toBe('…my hands');
  });

  it('knows when the coach reads the card, which is on the screen', () => {
    expect(isReadingCard(washing, replyTo(washing, BEFORE, 'read card', 0))).toBe(true);
    expect(isReadingCard(washing, 'Going on.')).toBe(false);
  });
});

describe('the signals', () => {
  it('give one earcon an utterance, the one that asks something first', () => {
    const before = after(credited('soap', 1));
    expect(earconFor(washing, before, [credited('greet', 2)])).toBe('credited');
    expect(earconFor(washing, before, [credited('greet', 2), credited('wet', 3)])).toBe('out of order');
    expect(earconFor(washing, before, [credited('soap', 3)])).toBeNull();
    const doubted: RehearsalEvent = { type: 'doubted', step: 'greet', evidence: evidence(2), why: 'faint' };
    expect(earconFor(washing, before, [doubted])).toBe('unsure');
    expect(earconFor(washing, before, [clock('start', 4)])).toBe('credited');
    expect(earconFor(washing, before, [{ type: 'ended', at: 4 }])).toBeNull();
  });
});

describe('the end', () => {
  it('puts critical steps first, and leaves out what came out right', () => {
    const { steps } = markRehearsal(
      washing,
      after(credited('soap', 1), credited('wet', 3), credited('greet', 4)),
    );
    const groups = groupsOf(steps);
    expect(groups.map(({ key }) => key)).toEqual([
      'critical',
      'not heard',
      'out of order',
      'needs eyes',
      'heard',
    ]);
    expect(groups[0]!.marks.map(({ id }) => id)).toEqual(['scrub', 'rinse']);
    expect(groups.flatMap(({ marks }) => marks)).toHaveLength(steps.length);
    expect(missedOf(steps)).toContain('wet');
    expect(missedOf(steps)).not.toContain('no-contact');
    expect(missedOf(steps)).not.toContain('soap');
  });

  it('says what to practise next: critical steps first, at most three, what skills share once', () => {
    const { steps } = markRehearsal(washing, after(credited('soap', 1), credited('wet', 3)));
    const next = practiseNext([{ checklist: washing, marks: steps }]);
    expect(next.map(({ mark }) => mark.id)).toEqual(['scrub', 'rinse', 'greet']);
    const legs = markRehearsal(leg, BEFORE).steps;
    const both = practiseNext([
      { checklist: washing, marks: steps.filter(({ id }) => id === 'greet') },
      { checklist: leg, marks: legs.filter(({ id, critical }) => id === 'greet' || critical) },
    ]);
    expect(both[0]).toMatchObject({ checklist: leg, mark: { critical: true } });
    expect(new Set(both.map(({ mark }) => mark.text)).size).toBe(both.length);
    const heard = steps.filter(({ outcome }) => outcome === 'heard' || outcome === 'needs eyes');
    expect(practiseNext([{ checklist: washing, marks: heard }])).toEqual([]);
  });

  it('gives a saying for what was missed, and none for what was heard or needs eyes', () => {
    const { steps } = markRehearsal(washing, after(credited('soap', 1)));
    const saying = (id: string) =>
      sayingFor(
        washing,
        lexicon,
        steps.find((mark) => mark.id === id)!,
      );
    expect(saying('rinse')).toMatch(/^I rinse /);
    expect(saying('soap')).toBeNull();
    expect(saying('no-contact')).toBeNull();
  });

  it('asks for the bytes of a stretch and a little around it', () => {
    // Behind 44 bytes of header, 32,000 bytes a second (RIFF/WAVE: 16 kHz, one channel, 16 bits).
    expect(bytesOf(1.3, 2)).toBe(`bytes=${44 + 32_000}-${44 + 2.3 * 32_000 - 1}`);
    expect(bytesOf(0.1, 1)).toMatch(/^bytes=44-/);
  });

  it('draws into the transcript the very words a mark rests on', () => {
    const words = ['Now', 'I', 'take', 'some', 'soap.'].map((text, i) => ({
      text,
      start: 10 + i,
      end: 11 + i,
      uncertainty: 0.1,
    }));
    const utterance = {
      id: 0,
      text: 'Now I take some soap.',
      start: 10,
      end: 15,
      uncertainty: 0.1,
      confidence: 1,
      words,
    };
    const state = after(
      { type: 'credited', step: 'soap', evidence: evidence(12, 'take some soap', 15) },
      { type: 'heard', utterance, used: [] },
      { type: 'spoke', text: 'Paused.', from: 3, to: 4 },
      { type: 'aside', utterance: { ...utterance, id: 1, start: 20, end: 25 }, why: 'paused' },
    );
    const lines = transcriptOf(state, markRehearsal(washing, state).steps);
    expect(lines.map(({ who }) => who)).toEqual(['coach', 'you', 'aside']);
    expect(lines[1]!.pieces).toEqual([
      { text: 'Now I', step: null, outcome: null },
      { text: 'take some soap.', step: 'soap', outcome: 'heard' },
    ]);
    expect(lines[2]!.note).toMatch(/pause/);
  });

  it('keeps marks that are close together in lanes of their own', () => {
    expect(lanesOf([0.1, 0.11, 0.12, 0.125, 0.5])).toEqual([0, 1, 2, 0, 0]);
    expect(lanesOf([0.1, 0.2, 0.3])).toEqual([0, 0, 0]);
  });
});
