import { readdir, readFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { Run } from '../../app/run/run.ts';
import { practiceOf } from '../../app/run/testPlan.ts';
import { replyTo } from '../../app/run/coach.ts';
import { COMMANDS, findCommand } from '../../app/language/commands.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { BEFORE } from '../../app/marking/state.ts';
import { elapsed } from '../../app/marking/testClock.ts';
import { shipped, utterance } from './making/narrate.ts';
import { rehearse, type Happening } from './making/rehearse.ts';

const lever = shipped('hand-washing');
const leg = shipped('range-of-motion-leg');
const breaths = shipped('respirations');

const START = 'I am scrubbing all surfaces of my hands with friction.';
const RINSE = 'Now I am rinsing from the wrists down to the fingertips.';
const BEFORE_SCRUB = ['I am wetting my hands and wrists.', 'Getting some soap.'];

const credited = async (checklist: typeof lever, script: readonly Happening[]): Promise<string[]> =>
  Object.keys((await rehearse(checklist, script)).state.credits);

/** Everything anybody says in our corpora: trainees, residents, visitors, a canteen. */
async function allSayings(): Promise<string[]> {
  const here = new URL('.', import.meta.url);
  const speech = new URL('../speech/', here);
  const files = [new URL('sayings/sayings.yaml', here)];
  for (const folder of ['narrations/', 'negatives/']) {
    const names = await readdir(new URL(folder, speech));
    const said = names.filter((name) => name.endsWith('.yaml'));
    files.push(...said.map((name) => new URL(folder + name, speech)));
  }
  const textsIn = (value: unknown): string[] =>
    typeof value === 'string' ? [value] : Object.values(value ?? {}).flatMap(textsIn);
  const sources = await Promise.all(files.map((file) => readFile(file, 'utf8')));
  return sources.flatMap((source) => textsIn(parse(source)));
}

describe('a command', () => {
  it('is none of the sayings of our corpora', async () => {
    const sayings = await allSayings();
    expect(sayings.length).toBeGreaterThan(3000);
    expect(sayings.filter((text) => findCommand(text))).toEqual([]);
    // Thousands of lines are read: half a minute of a quiet core.
  }, 240_000);

  it('is taken and kept as an aside, not as narration', async () => {
    const { state, events } = await rehearse(lever, [
      'Getting some soap.',
      'Repeat the car.',
      'Coach, time.',
    ]);
    expect(state.commands.map((c) => c.command)).toEqual(['read card', 'time left']);
    expect(state.asides.map((a) => a.why)).toEqual(['command', 'command']);
    expect(state.utterances.map((u) => u.text)).toEqual(['Getting some soap.']);
    expect(events.filter((e) => e.type === 'heard')).toHaveLength(1);
  });

  it('after the name leaves what was said before it to be marked', async () => {
    const { state } = await rehearse(lever, ['I am getting some soap. Coach, how much time is left?']);
    expect(Object.keys(state.credits)).toEqual(['soap']);
    expect(state.utterances[0]!.text).toBe('I am getting some soap.');
    expect(state.commands[0]!.command).toBe('time left');
  });

  it.each([
    ['I am finished counting.', 'count'],
    ['I am finished.', 'count'],
    ['Stop.', 'count'],
    ['Done.', 'count'],
    ["Time's up.", 'count'],
  ])('is not what ends a count: "%s"', async (line, step) => {
    const { state } = await rehearse(breaths, ['Starting now.', 60, line]);
    expect(state.commands).toEqual([]);
    expect(state.clocks[step]!.done).toHaveLength(1);
  });

  it('does not count as a repetition, nor as a question about the scrub', async () => {
    const moved = await rehearse(leg, [
      'I am supporting the leg under the knee and at the ankle.',
      'I bend the knee.',
      'Repeat the card.',
    ]);
    expect(moved.marks.counts.find((c) => c.id === 'bend-knee')!.counted).toBe(1);
    const scrubbed = await rehearse(lever, [
      ...BEFORE_SCRUB,
      START,
      12,
      'How long have I scrubbed?',
      9,
      RINSE,
    ]);
    expect(scrubbed.state.commands.map((c) => c.command)).toEqual(['scrub time']);
    expect(scrubbed.outcomes['scrub']).toBe('heard');
  });

  it('to begin is one only once, to go on only in a pause', async () => {
    const { state } = await rehearse(leg, [
      'Carry on.',
      "Let's begin.",
      "Let's begin.",
      'Pause.',
      'Carry on.',
    ]);
    expect(state.commands.map((c) => c.command)).toEqual(['begin', 'pause', 'go on']);
    expect(state.begun).toBeCloseTo(state.commands[0]!.at);
  });

  it.each(COMMANDS)('"%s" has an answer in whole sentences', (command) => {
    for (const checklist of [lever, leg, breaths]) {
      const said = replyTo(checklist, BEFORE, command, 10);
      expect(said).toMatch(/^[A-Z].*[.!]$/);
    }
  });
});

describe('a pause', () => {
  it('leaves what is said in it unmarked, and everything marked after it', async () => {
    const { state } = await rehearse(lever, ['Pause please.', 'Getting some soap.', 'Go on.', RINSE]);
    expect(Object.keys(state.credits)).toEqual(['rinse']);
    expect(state.asides.map((a) => a.why)).toEqual(['command', 'paused', 'command']);
  });

  it('is no time of the test', async () => {
    const { state, now } = await rehearse(lever, [5, { press: 'pause' }, 100, { press: 'go on' }, 10]);
    expect(now).toBe(115);
    expect(elapsed(state, 115)).toBe(15);
    expect(state.pausedSeconds).toBe(100);
  });

  it('ends the run, which keeps the time it had, and it does not go on by itself', async () => {
    const broken = [...BEFORE_SCRUB, START, 12, { press: 'pause' as const }, 30, { press: 'go on' as const }];
    const alone = await rehearse(lever, [...broken, 12, RINSE]);
    expect(alone.marks.clocks[0]!.seconds).toBeCloseTo(12);
    expect(alone.outcomes['scrub']).toBe('not heard');
    const halves = await rehearse(lever, [...broken, 'Back to scrubbing.', 12, RINSE]);
    expect(halves.marks.clocks[0]!.met).toBe(false);
    const again = await rehearse(lever, [...broken, 'Back to scrubbing.', 22, RINSE]);
    expect(again.marks.clocks[0]!.met).toBe(true);
  });

  it('keeps a run that had its time before', async () => {
    const { marks } = await rehearse(lever, [...BEFORE_SCRUB, START, 22, 'Pause.', 40, 'Go on.', RINSE]);
    expect(marks.clocks[0]!.met).toBe(true);
  });

  it('pressed while a saying is still being recognised does not lengthen the run that the saying ends', async () => {
    const run = new Run(practiceOf(lever), (heard) => Promise.resolve(heard));
    const start = utterance(START, 0, 0);
    void run.hear(start);
    const rinse = utterance(RINSE, start.end + 19, 1);
    void run.command('pause', rinse.end + 3);
    void run.hear(rinse);
    void run.command('go on', rinse.end + 9);
    const { clocks } = markRehearsal(lever, (await run.end(rinse.end + 20)).runs[0]!.state);
    expect(clocks[0]!.seconds).toBeCloseTo(19);
    expect(clocks[0]!.met).toBe(false);
  });
});

describe('a rehearsal that was broken off', () => {
  it('is gone on with in a pause, which ends the run it broke', async () => {
    const { state: before, events } = await rehearse(lever, [...BEFORE_SCRUB, START]);
    const until = before.utterances.at(-1)!.end + 12;
    const added: RehearsalEvent[] = [];
    const run = new Run(
      practiceOf(lever),
      (heard) => Promise.resolve(heard),
      (some) => added.push(...some),
      { events: events.filter(({ type }) => type !== 'ended'), until },
    );
    expect(run.state).toMatchObject({ paused: until, breaks: [until], credits: before.credits });
    void run.command('go on', until + 5);
    void run.hear(utterance(RINSE, until + 20, 9));
    await run.end(until + 30);
    const { state } = run;
    const { clocks, steps } = markRehearsal(lever, state);
    expect(clocks[0]!.seconds).toBeLessThan(13);
    expect(steps.find(({ id }) => id === 'rinse')!.outcome).toBe('heard');
    expect(elapsed(state, Infinity)).toBeCloseTo(until + 30 - 5);
    expect(added.map(({ type }) => type)).not.toContain('began');
  });
});

describe('the time of the test', () => {
  it('does not begin again with an "I am ready" said after the first step', async () => {
    const { state } = await rehearse(lever, ['Getting some soap.', 30, "I'm ready to begin."]);
    expect(state.begun).toBe(0);
  });
});

describe("the coach's own voice", () => {
  const CARD = lever.skill.card.replace(/\s+/g, ' ').trim();

  it.each([
    CARD,
    'Wash your hands at the sink.',
    'watch your hands at the sink begin by greeting the resident',
  ])('credits nothing: "%s"', async (echo) => {
    const { state } = await rehearse(lever, [{ coach: CARD }, echo]);
    expect(state.credits).toEqual({});
    expect(state.asides.map((a) => a.why)).toEqual(['echo']);
  });

  it('credits nothing although it says a critical step, whole or in part', async () => {
    const { state } = await rehearse(lever, [{ coach: `Next time say: ${RINSE}` }, 1, RINSE]);
    expect(state.credits).toEqual({});
    const garbled = await rehearse(lever, [
      { coach: RINSE },
      'now I am raincing from wrist down to fingertips',
    ]);
    expect(garbled.state.credits).toEqual({});
  });

  it('is heard for a second after it, and no longer', async () => {
    const coach = { coach: 'Getting some soap.' };
    expect(await credited(lever, [coach, 1.8, 'Getting some soap.'])).toEqual([]);
    expect(await credited(lever, [coach, 2.2, 'Getting some soap.'])).toEqual(['soap']);
  });

  it('does not keep the trainee from being heard over it', async () => {
    const over = [{ coach: 'About 12 minutes left.' }, 'Getting some soap.'];
    expect(await credited(lever, over)).toEqual(['soap']);
    const stop = await rehearse(lever, [{ coach: CARD }, 'Coach, pause.']);
    expect(stop.state.commands.map((c) => c.command)).toEqual(['pause']);
  });

  it('mixed with the trainee leads to doubts, never to credits', async () => {
    const mixed = 'About 12 minutes left. I am getting some soap from the dispenser.';
    const { state } = await rehearse(lever, [{ coach: 'About 12 minutes left.' }, mixed]);
    expect(state.credits).toEqual({});
    expect(Object.keys(state.doubts)).toEqual(['soap']);
    expect(state.doubts['soap']!.why).toBe('unclear');
  });

  it('is not even asked about where most of the words are its own', async () => {
    const { state } = await rehearse(lever, [
      { coach: 'About 12 minutes left.' },
      'About 12 minutes left getting some soap',
    ]);
    expect([state.credits, state.doubts]).toEqual([{}, {}]);
  });

  it('lets nobody claim over it the step that it names', async () => {
    const coach = { coach: 'Say the whole step: I take some soap from the dispenser by the tap.' };
    const { state } = await rehearse(lever, [
      coach,
      'Well I squirted a generous dollop onto my left palm, soap.',
    ]);
    expect(state.credits).not.toHaveProperty('soap');
  });

  it('stops no clock and cannot hide a stop: a run under a mixture is not sure', async () => {
    const script = (over: string): Happening[] => [
      ...BEFORE_SCRUB, START, 15, { coach: 'I can only mark what I hear. Tell me what you are doing.' }, over, 14, RINSE,
    ]; // prettier-ignore
    const pure = await rehearse(lever, script('I can only mark what I hear. Tell me what you are doing.'));
    expect(pure.outcomes['scrub']).toBe('heard');
    const masked = await rehearse(
      lever,
      script('I can only mark what I hear rinding wrist finger tell me what you are doing'),
    );
    expect(masked.outcomes['scrub']).not.toBe('heard');
  });

  it('said again with its true end replaces what was announced', async () => {
    const run = new Run(practiceOf(lever), (heard) => Promise.resolve(heard));
    await run.spoke({ text: 'Going on.', from: 3, to: 9 });
    await run.spoke({ text: 'Going on.', from: 3, to: 4.1 });
    expect(run.state.spoken).toEqual([{ text: 'Going on.', from: 3, to: 4.1 }]);
  });
});

describe('a partial result', () => {
  const of = (events: readonly { type: string }[], type: string): number =>
    events.filter((e) => e.type === type).length;

  it('credits tentatively, once, and the final result settles it', async () => {
    const { state, events } = await rehearse(lever, [
      { partial: 'I am getting' },
      { partial: 'I am getting some soap' },
      { partial: 'I am getting some soap from the' },
      'I am getting some soap from the dispenser.',
    ]);
    expect(of(events, 'tentative')).toBe(1);
    expect(of(events, 'withdrawn')).toBe(0);
    expect(state.tentative).toEqual({});
    expect(Object.keys(state.credits)).toEqual(['soap']);
  });

  it('is withdrawn, and seen to be, where the final result does not bear it out', async () => {
    const { state } = await rehearse(lever, [
      { partial: 'I am getting some soap' },
      'I am getting some soap later.',
    ]);
    expect(state.credits).toEqual({});
    expect(state.tentative).toEqual({});
    expect(state.withdrawn.map((w) => w.step)).toEqual(['soap']);
  });

  it('starts no clock, counts nothing and takes no reading', async () => {
    const scrub = await rehearse(lever, [{ partial: START }]);
    expect(scrub.state.clocks).toEqual({});
    expect(of(scrub.events, 'tentative')).toBe(0);
    const record = await rehearse(breaths, [{ partial: 'I write down 16 respirations' }]);
    expect(record.state.readings).toEqual({});
    expect(of(record.events, 'tentative')).toBe(0);
    const moved = await rehearse(leg, [{ partial: 'I bend the knee' }]);
    expect(of(moved.events, 'tentative')).toBe(0);
  });

  it('never credits a critical step on sound-alikes, nor a credited one again, nor in a pause, nor an echo', async () => {
    const none = async (script: Happening[]): Promise<void> =>
      expect(of((await rehearse(lever, script)).events, 'tentative')).toBe(0);
    await none([{ partial: 'I am rincing from the rists down to the fingatips' }]);
    await none([RINSE, { partial: RINSE }]);
    await none([{ press: 'pause' }, { partial: RINSE }]);
    await none([{ coach: RINSE }, { partial: RINSE }]);
    await none([{ partial: 'Read the card' }]);
  });

  it('whose final result never comes is withdrawn when speech begins again, or at the end', async () => {
    const again = await rehearse(lever, [
      { partial: 'Getting some soap' },
      8,
      { partial: 'and' },
      'and then',
    ]);
    expect(again.state.withdrawn.map((w) => w.step)).toEqual(['soap']);
    const end = await rehearse(lever, [{ partial: 'Getting some soap' }, 3]);
    expect(end.state.withdrawn.map((w) => w.step)).toEqual(['soap']);
  });

  it('of a saying that a cut has halved waits for the other half', async () => {
    const long =
      'So here I am at the sink of the room and it is a nice morning and I do look at the clock on the wall and I am wetting my hands';
    const { events, state } = await rehearse(lever, [
      { partial: `${long} and my wrists` },
      long,
      0.1,
      'and my wrists, all over.',
    ]);
    expect(events.filter((e) => e.type === 'withdrawn')).toEqual([]);
    expect(Object.keys(state.credits)).toContain('wet');
  });
});
