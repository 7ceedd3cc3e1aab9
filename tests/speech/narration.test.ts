import { describe, expect, it } from 'vitest';
import { openLibrary } from '../../app/library/library.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import { shipped } from '../rehearsal/making/narrate.ts';
import { asScript, loadNarrations, loadNegatives, type Narration } from './narration.ts';

const [narrations, negatives, library] = await Promise.all([
  loadNarrations(),
  loadNegatives(),
  openLibrary(),
]);

const stepsOf = ({ skill, variants }: Pick<Narration, 'skill' | 'variants'>): Checklist =>
  shipped(skill, variants);

/** Line at which each step is said first and last, whether or not it is worth a credit in the end. */
function sayings({ lines }: Narration): Map<string, { first: number; last: number }> {
  const said = new Map<string, { first: number; last: number }>();
  lines.forEach((line, at) => {
    const steps = [...line.credits, ...Object.keys(line.counts), ...(line.starts ? [line.starts] : [])];
    for (const step of steps) said.set(step, { first: said.get(step)?.first ?? at, last: at });
  });
  return said;
}

describe('the narrations', () => {
  it('are enough of each skill, a part of them held out', () => {
    const of = (skill: string, split: string): number =>
      narrations.filter((n) => n.skill === skill && n.split === split).length;
    expect([of('hand-washing', 'dev'), of('hand-washing', 'held-out')]).toEqual([45, 18]);
    expect([of('range-of-motion-leg', 'dev'), of('range-of-motion-leg', 'held-out')]).toEqual([35, 14]);
    expect([of('respirations', 'dev'), of('respirations', 'held-out')]).toEqual([37, 13]);
    for (const id of library.skills.keys())
      expect(Math.min(of(id, 'dev'), of(id, 'held-out')), id).toBeGreaterThanOrEqual(2);
  });

  it.each(narrations)('$id names only steps that its skill and variants have', (narration) => {
    const known = new Set(stepsOf(narration).steps.map((s) => s.id));
    const named = narration.lines.flatMap((line) => [
      ...line.credits,
      ...line.either,
      ...Object.keys(line.counts),
      ...Object.keys(line.fills ?? {}),
      ...[line.starts, line.holds, line.resumes, line.stops].filter((id) => id !== undefined),
    ]);
    expect([...named, ...narration.swapped.flat()].filter((id) => !known.has(id))).toEqual([]);
  });

  it.each(narrations)('$id breaks the skill’s order exactly where it says so', (narration) => {
    const said = sayings(narration);
    const broken = stepsOf(narration)
      .constraints.filter(({ earlier, later }) => {
        const first = said.get(earlier)?.first;
        const last = said.get(later)?.last;
        return first !== undefined && last !== undefined && first > last;
      })
      .map(({ earlier, later }) => `${earlier} < ${later}`);
    expect([...new Set(broken)].sort()).toEqual(narration.swapped.map((pair) => pair.join(' < ')).sort());
  });

  it.each(narrations)('$id has nothing credited to a second person', ({ lines }) => {
    const others = lines.filter((line) => line.by === 'other');
    expect(
      others.filter((l) => l.credits.length > 0 || Object.keys(l.counts).length > 0 || l.starts),
    ).toEqual([]);
  });

  it('say every step of the three first skills in at least six wordings, of the others in two', () => {
    const wordings = new Map<string, Set<string>>();
    for (const narration of narrations) {
      for (const line of narration.lines) {
        for (const step of [
          ...line.credits,
          ...Object.keys(line.counts),
          ...(line.starts ? [line.starts] : []),
        ]) {
          const key = `${narration.skill}/${step}`;
          wordings.set(key, (wordings.get(key) ?? new Set()).add(line.say.toLowerCase()));
        }
      }
    }
    const few = [...library.skills.values()].flatMap((skill) => {
      const wanted = narrations.filter((n) => n.skill === skill.id).length > 20 ? 6 : 2;
      return skill.steps
        .filter((s) => s.evidence.kind !== 'eyes')
        .map((s) => `${skill.id}/${s.id}`)
        .filter((key) => (wordings.get(key)?.size ?? 0) < wanted);
    });
    expect(few).toEqual([]);
  });

  it('never say a step in the words of the skill file', () => {
    const plain = (text: string): string => text.toLowerCase().replace(/[^a-z ]/g, '');
    const texts = new Set(
      [...library.skills.values()].flatMap((s) => s.steps.map((step) => plain(step.text))),
    );
    expect(narrations.flatMap((n) => n.lines).filter((line) => texts.has(plain(line.say)))).toEqual([]);
  });

  it.each([
    ['dev', [18, 19, 19.5, 20.5, 25], [45, 58, 60.5, 62]],
    ['held-out', [18, 19.5, 22, 25], [58, 60.5, 62]],
  ])('hold the scrubs and minutes that matter, %s', (split, scrubs, minutes) => {
    const fills = narrations
      .filter((n) => n.split === split)
      .flatMap((n) => n.lines.map((l) => l.fills ?? {}));
    expect(fills.map((f) => f['scrub'])).toEqual(expect.arrayContaining(scrubs));
    expect(fills.map((f) => f['count'])).toEqual(expect.arrayContaining(minutes));
  });
});

describe('the talk that credits nothing', () => {
  it('can be spoken like a narration', () => {
    expect(negatives.length).toBeGreaterThan(0);
    for (const script of negatives.map(asScript))
      expect(script.lines.every((line) => line.credits.length === 0 && line.pause === 1)).toBe(true);
  });
});
