import { describe, expect, it } from 'vitest';
import { attend } from '../run/attend.ts';
import { obey } from '../run/carryOut.ts';
import { makeChecklist, type Checklist } from '../skills/checklist.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { hearAgain, remark } from './remark.ts';
import { RulesSchema } from '../skills/skill.ts';
import { parseSkill } from './skillFile.ts';
import { BEFORE, fold } from '../marking/state.ts';
import { utteranceOf } from '../language/utterance.ts';

const RULES = RulesSchema.parse({ schema: 1, id: 'r', title: 'R', share: 1, outOfOrderCounts: true });
const version = (steps: string): Checklist =>
  makeChecklist(
    parseSkill('demo.yaml', `schema: 1\nid: demo\ntitle: Demo\ncard: C\nsteps:\n${steps}`, { schema: 1, slots: {} }),
    { schema: 1, slots: {} },
    RULES,
  ); // prettier-ignore
const CURTAIN = '  - { id: curtain, text: Curtain, cues: ["i close the curtain"] }\n';
const PILLOW = '  - { id: pillow, text: Pillow, critical: true, cues: ["i fluff the pillow"] }\n';
const RUB = `  - id: rub
    text: Rub
    evidence: { kind: timed, atLeast: 20, start: ["i rub the lotion in"], stop: ["rubbing is over"] }
`;
const first = version(CURTAIN + PILLOW + RUB);

/** A rehearsal as its journal keeps it: lines, seconds of silence, and what the coach says. */
function journal(checklist: Checklist, script: readonly (string | number | { coach: string })[]): RehearsalEvent[] {
  const events: RehearsalEvent[] = [{ type: 'began', skill: 'demo', variants: {} }];
  let now = 0;
  script.forEach((part, id) => {
    if (typeof part === 'number') return void (now += part);
    const state = events.reduce(fold, BEFORE);
    if (typeof part === 'object') events.push({ type: 'spoke', text: part.coach, from: now, to: now + 2 });
    else events.push(...attend(checklist, state, utteranceOf({ id, text: part, start: now, end: now + 2 })));
    now += 4;
  });
  events.push({ type: 'ended', at: now });
  return events;
} // prettier-ignore

const ALL = ['I close the curtain.', 'I fluff the pillow.', 'I rub the lotion in.', 20, 'Rubbing is over.'];

describe('marking again', () => {
  it('under the same version changes nothing, with commands, pauses and the coach in between', () => {
    const script = ['I close the curtain.', 'Pause.', 'I fluff the pillow.', 'Go on.', { coach: 'Next, the pillow.' }, 'I fluff the pillow.', 'I rub the lotion in.', 20, 'Rubbing is over.'];
    const events = journal(first, script);
    const { before, after, differences } = remark(first, first, events);
    expect(differences).toEqual([]);
    expect(after).toEqual(before);
    expect(before.passed).toBe(true);
    expect(hearAgain(first, events)).toEqual(events.reduce(fold, BEFORE));
  }); // prettier-ignore

  it('tells each step that comes out otherwise, new ones and those that are gone', () => {
    const second = version(
      `${RUB.replace('20', '40')}${PILLOW.replace('i fluff the pillow', 'i shake the cushion')}  - { id: light, text: Light, cues: ["i close the lid"] }\n`,
    );
    const { before, after, differences } = remark(first, second, journal(first, ALL));
    expect(differences.map((d) => [d.step, d.before, d.after])).toEqual([
      ['rub', 'heard', 'not heard'],
      ['pillow', 'heard', 'not heard'],
      ['light', null, 'not heard'],
      ['curtain', 'heard', null],
    ]);
    expect(differences[0]?.note).toMatch(/40 s needed/);
    expect([before.passed, after.passed, after.criticalMissed]).toEqual([true, false, ['pillow']]);
  });

  it('hears what the first version had no cue for', () => {
    const events = journal(first, ['I shut the drapes.', ...ALL.slice(1)]);
    const better = version(`${CURTAIN.replace('["', '["i shut the drapes", "')}${PILLOW}${RUB}`);
    expect(remark(first, better, events).differences).toEqual([
      expect.objectContaining({ step: 'curtain', before: 'not heard', after: 'heard' }),
    ]);
  });

  it('pauses nothing for a command that was a cue then', () => {
    const cue = version(`${CURTAIN.replace('i close the curtain', 'pause')}${PILLOW}${RUB}`);
    const events = journal(cue, ['Pause.', ...ALL.slice(1)]);
    expect(events.some(({ type }) => type === 'paused')).toBe(false);
    expect(remark(cue, first, events).differences.map(({ step }) => step)).toEqual(['curtain']);
  });

  it('keeps the pauses that were pressed', () => {
    const events = journal(first, ALL);
    const at = events.findIndex((e) => e.type === 'clock' && e.move === 'stop');
    const pressed = [...obey(BEFORE, 'pause', 15, null), { type: 'resumed', at: 16 } as const];
    const paused = [...events.slice(0, at), ...pressed, ...events.slice(at)];
    expect(hearAgain(first, paused).pauses).toEqual([{ from: 15, to: 16 }]);
    expect(remark(first, first, paused).differences).toEqual([]);
  });
});
