import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { StepMark } from '../marking/assessment.ts';
import { fewestKeys, openDesk, press, type Desk, type Effect } from './desk.ts';
import { ACTIONS, actionOf, KEYS, type Action } from './keys.ts';
import type { Reviewed } from './review.ts';
import { openRows, type Row } from './sideBySide.ts';

const evidence = { utterance: 0, text: 'wetting my hands', start: 4, end: 6, score: 1 };
const rowOf = (step: string, outcome: StepMark['outcome'] = 'heard'): Row => {
  const said = outcome === 'not heard' || outcome === 'needs eyes' ? null : evidence;
  const mark = {
    id: step,
    text: step,
    critical: false,
    outcome,
    at: said?.start ?? null,
    evidence: said,
    manner: null,
    note: '',
  };
  return { step, text: step, critical: false, mark, verdict: null, measure: null };
};
const judged = (rows: readonly Row[], effect: Extract<Effect, { do: 'verdict' }>): Row[] =>
  rows.map((row) => {
    if (row.step !== effect.step) return row;
    const verdict: Reviewed = {
      type: 'reviewed',
      by: 'R. Ortega',
      madeAt: '2026-11-30T09:00:00.000Z',
      skill: 0,
      step: effect.step,
      verdict: effect.verdict,
      reason: '',
      heardAt: effect.heardAt,
      blind: false,
    };
    return { ...row, verdict };
  });
const work = (rows: readonly Row[], actions: readonly Action[], now: number | null = null) =>
  actions.reduce<{ desk: Desk; rows: readonly Row[]; effects: Effect[] }>(
    (so, action) => {
      const { desk, effects } = press(so.desk, so.rows, action, now);
      const after = effects.reduce<readonly Row[]>(
        (all, e) => (e.do === 'verdict' ? judged(all, e) : all),
        so.rows,
      );
      return { desk, rows: after, effects: [...so.effects, ...effects] };
    },
    { desk: openDesk(rows), rows, effects: [] },
  );

describe('the keys of a review', () => {
  it('are one for each action, and no two alike', () => {
    expect(new Set(Object.values(KEYS).map(({ key }) => key)).size).toBe(ACTIONS.length);
    for (const action of ACTIONS) expect(actionOf(KEYS[action].key.toUpperCase())).toBe(action);
    expect(actionOf('q')).toBeNull();
  });

  it('give a verdict and go on to the next step without one', () => {
    const { desk, effects } = work([rowOf('a'), rowOf('b'), rowOf('c')], ['next', 'yes', 'no']);
    expect(effects).toEqual([
      { do: 'verdict', step: 'b', verdict: 'yes', heardAt: null },
      { do: 'verdict', step: 'c', verdict: 'no', heardAt: null },
    ]);
    expect(desk.step).toBe('a');
  });

  it('name the moment of a yes that the machine has no words for, and of no other', () => {
    const heardAts = (outcome: StepMark['outcome'], action: Action) =>
      work([rowOf('a', outcome)], [action], 31.5).effects.map((e) => e.do === 'verdict' && e.heardAt);
    expect(heardAts('not heard', 'yes')).toEqual([31.5]);
    expect(heardAts('not heard', 'no')).toEqual([null]);
    expect(heardAts('heard', 'yes')).toEqual([null]);
  });

  it('play, go back three seconds, hear the words of a mark, and begin a comment at the moment', () => {
    const rows = [rowOf('a'), rowOf('b', 'not heard')];
    expect(work(rows, ['play', 'back', 'hear'], 10).effects).toEqual([
      { do: 'play or stop' },
      { do: 'seek', to: 7 },
      { do: 'hear', from: 4, to: 6 },
    ]);
    expect(work(rows, ['back'], 1).effects).toEqual([{ do: 'seek', to: 0 }]);
    expect(work(rows, ['next', 'hear'], 10).effects).toEqual([]);
    expect(work(rows, ['comment'], 12.5).desk.commentAt).toBe(12.5);
  });

  it('sign nothing off while a step has no verdict', () => {
    const rows = [rowOf('a'), rowOf('b')];
    expect(work(rows, ['yes', 'sign off']).effects.at(-1)).toEqual({ do: 'refuse', open: 1 });
    expect(work(rows, ['yes', 'no', 'sign off']).effects.at(-1)).toEqual({ do: 'sign off' });
  });

  // Keystroke-level model (S. Card, T. Moran, A. Newell, Communications of the ACM 23, 1980): 1.35 s to make up one's mind and 0.28 s
  // to press a key for who types 40 words a minute. Values from memory.
  it('review twenty steps in 21 keys: under a minute where each is decided at sight', () => {
    const rows = Array.from({ length: 20 }, (_, i) => rowOf(`step-${i}`, i % 3 === 0 ? 'unsure' : 'heard'));
    const keys: Action[] = [...rows.map((_, i): Action => (i % 3 === 0 ? 'no' : 'yes')), 'sign off'];
    const { desk, effects } = work(rows, keys);
    expect(effects.at(-1)).toEqual({ do: 'sign off' });
    expect(desk.keys).toBe(21);
    expect(fewestKeys(rows)).toBe(21);
    expect(desk.keys * (1.35 + 0.28)).toBeLessThan(60);
  });

  it('take any order of keys, stay on a step there is, and judge every step once all are pressed', () => {
    const names = ['a', 'b', 'c', 'd'];
    fc.assert(
      fc.property(
        fc.array(fc.constantFrom(...ACTIONS)),
        fc.option(fc.double({ min: 0, max: 99, noNaN: true })),
        (keys, now) => {
          const so = work(
            names.map((name) => rowOf(name)),
            keys,
            now,
          );
          expect(names).toContain(so.desk.step);
          expect(so.desk.keys).toBe(keys.length);
          const left = openRows(so.rows).length;
          expect(
            openRows(
              work(
                so.rows,
                Array.from({ length: left }, () => 'yes' as const),
              ).rows,
            ),
          ).toEqual([]);
        },
      ),
    );
    expect(work([], [...ACTIONS]).effects.filter((e) => e.do === 'verdict')).toEqual([]);
  });
});
