import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { z } from 'zod';
import type { Checklist } from '../../../app/skills/checklist.ts';
import { interpret } from '../../../app/interpreting/interpret.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import { BEFORE } from '../../../app/marking/state.ts';
import { heardClearly } from '../../../app/language/utterance.ts';
import { judged } from '../../written/judging.ts';
import { narrate, shipped } from '../making/narrate.ts';

/**
 * Single sayings, written without sight of the cues. `does` is the step said as done, `not` has the step's words and must
 * not credit it. Those at even places were looked at while the cues were mended, those at odd places never. A false credit is one that the judge lets stand as well.
 */
const Sayings = z.object({
  skills: z.record(
    z.string(),
    z.object({
      steps: z.record(z.string(), z.object({ does: z.array(z.string()), not: z.array(z.string()) })),
      chatter: z.array(z.string()),
    }),
  ),
});
const { skills } = Sayings.parse(parse(readFileSync(new URL('sayings.yaml', import.meta.url), 'utf8')));

/** Steps said alike, told apart by their place in the rehearsal, which a single saying does not have. */
const TWINS: Readonly<Record<string, string>> = {
  'hands-before': 'hands-after',
  'hands-after': 'hands-before',
  'ask-pain': 'watch-pain',
  'watch-pain': 'ask-pain',
  position: 'comfort',
  comfort: 'position',
};
/** What must have been said before a saying can stop a clock. */
const STARTS: Readonly<Record<string, string>> = {
  'scrub-stop': 'I am scrubbing all surfaces of my hands with friction.',
  'count-stop': 'Starting now.',
};

const credits = (events: readonly RehearsalEvent[]): string[] =>
  events.flatMap((e) =>
    e.type === 'credited' ||
    (e.type === 'clock' && e.move === 'start') ||
    (e.type === 'movement' && e.form !== 'named')
      ? [e.step]
      : [],
  );

function says(checklist: Checklist, name: string, saying: string): boolean {
  const step = name.replace(/-(start|stop)$/, '');
  const start = STARTS[name];
  if (start === undefined) {
    const credited = credits(narrate(checklist, [saying]).events);
    return credited.includes(step) || credited.includes(TWINS[name] ?? step);
  }
  const { events } = narrate(checklist, [start, 5, saying]);
  return events.some((e) => e.type === 'clock' && e.step === step && e.move === 'stop');
}

/** Whether the learned judge lets a credit of the rules stand. */
async function isLet(checklist: Checklist, step: string, saying: string): Promise<boolean> {
  const [said] = await judged([heardClearly(0, saying, 0)], checklist);
  return credits(interpret(checklist, BEFORE, said!)).includes(step);
}

interface Credited {
  readonly list: Checklist;
  readonly step: string;
  readonly saying: string;
}

describe('single sayings', () => {
  const seen = { said: 0, all: 0, falsely: [] as Credited[], critical: [] as Credited[], denials: 0 };
  const unseen = structuredClone(seen);
  const chatter: Credited[] = [];
  for (const [id, { steps, chatter: talk }] of Object.entries(skills)) {
    const lists = new Map(
      [false, true].map((pedal) => [
        pedal,
        shipped(id, pedal && id === 'hand-washing' ? { tap: 'pedal' } : {}),
      ]),
    );
    for (const [name, { does, not }] of Object.entries(steps)) {
      const list = lists.get(name === 'pedal-off')!;
      const critical = list.steps.find((s) => s.id === name.replace(/-(start|stop)$/, ''))?.critical ?? false;
      does.forEach((saying, i) => {
        const part = i % 2 === 0 ? seen : unseen;
        part.all += 1;
        if (says(list, name, saying)) part.said += 1;
      });
      not.forEach((saying, i) => {
        const part = i % 2 === 0 ? seen : unseen;
        part.denials += 1;
        if (!says(list, name, saying)) return;
        const step = name.replace(/-(start|stop)$/, '');
        const one = { list, step, saying };
        part.falsely.push(one);
        if (critical && !name.endsWith('-stop')) part.critical.push(one);
      });
    }
    for (const saying of talk) {
      const credited = credits(narrate(lists.get(false)!, [saying]).events);
      for (const step of credited) chatter.push({ list: lists.get(false)!, step, saying });
    }
  }

  const left = async (some: readonly Credited[]): Promise<string[]> => {
    const all: string[] = [];
    for (const { list, step, saying } of some)
      if (await isLet(list, step, saying)) all.push(`${step}: ${saying}`);
    return all;
  };

  it('are credited by the rules alone, seen and unseen alike', () => {
    expect(seen.said / seen.all).toBeGreaterThanOrEqual(0.86);
    expect(unseen.said / unseen.all).toBeGreaterThanOrEqual(0.85);
  });

  it('that do not do it are not credited: no critical step ever, others at most one in thirty', async () => {
    expect(await left([...seen.critical, ...unseen.critical])).toEqual([]);
    expect(await left(seen.falsely)).toEqual([]);
    const falsely = await left(unseen.falsely);
    expect(falsely.length, falsely.join('\n')).toBeLessThanOrEqual(unseen.denials / 30);
  });

  it('of no step credit none', async () => {
    expect(await left(chatter)).toEqual([]);
  });
});
