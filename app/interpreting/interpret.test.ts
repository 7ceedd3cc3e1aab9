import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { heardClearly, type Utterance } from '../language/utterance.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { BEFORE, fold, type State } from '../marking/state.ts';
import { makeChecklist } from '../skills/checklist.ts';
import { RulesSchema, SkillSchema } from '../skills/skill.ts';
import { interpret, momentsWanted } from './interpret.ts';

/** A made-up skill with one step of each kind. */
const checklist = makeChecklist(
  SkillSchema.parse({
    schema: 1,
    id: 'made-up',
    title: 'A made-up skill',
    card: 'Do it.',
    steps: [
      { id: 'wash', text: 'wash the hands', cues: ['i wash my hands'] },
      { id: 'curtain', text: 'close the curtain', cues: ['i close the curtain'], after: ['wash'] },
      {
        id: 'water',
        text: 'use lukewarm water, never hot',
        critical: true,
        cues: ['the water is lukewarm', 'i use lukewarm water'],
      },
      {
        id: 'scrub',
        text: 'scrub for twenty seconds',
        evidence: {
          kind: 'timed',
          atLeast: 20,
          start: ['i scrub with soap'],
          stop: ['that was enough scrubbing'],
        },
      },
      {
        id: 'bend',
        text: 'bend the knee',
        cues: ['i bend the knee'],
        evidence: { kind: 'counted', atLeast: 3, joint: 'knee', again: ['bend'] },
      },
      {
        id: 'pulse',
        text: 'count the pulse',
        cues: ['i count the pulse'],
        evidence: { kind: 'reading', unit: 'beats', from: 30, to: 200, value: ['the pulse is #'] },
      },
      { id: 'tidy', text: 'tidy the table', cues: ['i tidy the table'] },
      { id: 'bell', text: 'hand over the call bell', cues: ['the call bell is in reach'] },
      { id: 'wash-again', text: 'wash the hands at the end', cues: ['i wash my hands'] },
    ],
  }),
  { schema: 1, slots: {} },
  RulesSchema.parse({ schema: 1, id: 'rules', title: 'Rules', share: 0.8, outOfOrderCounts: true }),
);

/** @param sure what the judge says of the whole utterance, by step; left out where there is none */
function say(state: State, text: string, sure?: Readonly<Record<string, number>>): RehearsalEvent[] {
  const start = (state.utterances.at(-1)?.end ?? 0) + 5;
  const heard = heardClearly(state.utterances.length, text, start);
  const judged = sure && [{ from: 0, to: heard.words.length, sure }];
  return interpret(checklist, state, { ...heard, ...(judged && { judged }) });
}

/** The events of the last of some lines, said after the others. */
const last = (...lines: readonly string[]): RehearsalEvent[] =>
  say(
    lines.slice(0, -1).reduce((state, line) => say(state, line).reduce(fold, state), BEFORE),
    lines.at(-1) ?? '',
  );

/** An event without its evidence, as one line. */
function brief(event: RehearsalEvent): string {
  switch (event.type) {
    case 'credited':
      return `credited ${event.step}${event.manner ? ` ${event.manner}` : ''}`;
    case 'doubted':
      return `doubted ${event.step}: ${event.why}`;
    case 'noted':
      return `noted ${event.step}: ${event.stance}`;
    case 'clock':
      return `clock ${event.step} ${event.move}`;
    case 'movement':
      return `movement ${event.step} ${event.form}`;
    case 'repetition':
      return `repetition ${event.count}`;
    case 'reading':
      return `reading ${event.step} ${event.value}`;
    case 'repaired':
      return `repaired ${event.step}: ${event.slip}`;
    default:
      return event.type;
  }
}
const briefly = (events: readonly RehearsalEvent[]): string[] => events.map(brief);

describe('what is said', () => {
  it.each<[string, string[]]>([
    ['I wash my hands.', ['credited wash', 'heard']],
    ["I'm going to close the curtain.", ['credited curtain begun', 'heard']],
    ['I have not closed the curtain.', ['noted curtain: denied', 'heard']],
    ['Maybe I closed the curtain.', ['doubted curtain: doubt', 'heard']],
    ['I scrub with soap.', ['clock scrub start', 'heard']],
    ['I bend the knee.', ['movement bend full', 'heard']],
    ['The pulse is 76.', ['reading pulse 76', 'heard']],
    ['The pulse is 760.', ['heard']],
    ['The pulse is strong.', ['heard']],
    ['It is a fine day.', ['heard']],
  ])('%s', (text, expected) => {
    expect(briefly(last(text))).toEqual(expected);
  });

  it('comes in the order in which it is said', () => {
    expect(briefly(last('I wash my hands, and then I close the curtain.'))).toEqual([
      'credited wash',
      'credited curtain',
      'heard',
    ]);
  });

  it('goes to the first of two steps with the same words, and to the other once that is said', () => {
    expect(briefly(last('I wash my hands.'))).toContain('credited wash');
    expect(briefly(last('I wash my hands.', 'I wash my hands.'))).toContain('credited wash-again');
  });

  it('stops a clock that runs, whatever other step it is', () => {
    expect(briefly(last('I scrub with soap.', 'That was enough scrubbing.'))).toContain('clock scrub stop');
    expect(briefly(last('I scrub with soap.', 'I tidy the table.'))).toContain('clock scrub stop');
  });

  it('counts by numbers and by "again" only what is being moved', () => {
    expect(briefly(last('I bend the knee.', 'Two.'))).toContain('repetition 2');
    expect(briefly(last('I bend the knee.', 'Again.'))).toContain('repetition again');
    expect(briefly(last('Two.'))).not.toContain('repetition 2');
  });

  it('puts a slip right in a correction', () => {
    const events = last('I wash my hands.', 'I tidy the table.', 'Let me correct that. I close the curtain.');
    expect(briefly(events)).toEqual(['credited curtain', 'repaired curtain: not heard', 'heard']);
  });

  it('is asked about where its sound was unclear, at a critical step also where one word was', () => {
    const heard = heardClearly(0, 'I use lukewarm water.', 0);
    const unsure = (at: number, confidence: number): Utterance => ({
      ...heard,
      words: heard.words.map((word, i) => (i === at ? { ...word, confidence } : word)),
    });
    const marked = (utterance: Utterance): string[] => briefly(interpret(checklist, BEFORE, utterance));
    expect(marked(heard)).toContain('credited water');
    expect(marked({ ...heard, confidence: 0.3 })).toContain('doubted water: unclear');
    expect(marked(unsure(2, 0.1))).toContain('doubted water: unclear');
  });
});

describe('the learned judge', () => {
  const judged = (text: string, sure: Readonly<Record<string, number>>): string[] =>
    briefly(say(BEFORE, text, sure));

  it('credits by its word alone what it is sure of, and a critical step only where it is surer', () => {
    expect(judged('Nobody looks in now.', { curtain: 0.99 })).toContain('credited curtain');
    expect(judged('It is a fine day.', { tidy: 0.6 })).toContain('credited tidy');
    expect(judged('It is not too cold.', { water: 0.8 })).toContain('doubted water: meaning');
  });

  it('objects where the words alone would credit', () => {
    expect(judged('I tidy the table.', { tidy: 0.001 })).toContain('doubted tidy: meaning');
    expect(judged('I tidy the table.', { tidy: 0.9 })).toContain('credited tidy');
  });

  it('never passes a critical step whose denial is missing, however sure it is', () => {
    expect(judged('I use hot water.', { water: 0.999 })).not.toContain('credited water');
  });

  it('starts no clock', () => {
    expect(judged('I rub them hard.', { scrub: 0.999 })).toEqual(['heard']);
  });
});

describe('whatever is said', () => {
  const words =
    'i wash my hands close the curtain water is lukewarm hot scrub with soap bend knee again two pulse 76 tidy table not maybe going to before if , . and';
  const text = fc.array(fc.constantFrom(...words.split(' ')), { minLength: 1, maxLength: 20 });
  const lines = fc.array(
    text.map((all) => all.join(' ')),
    { minLength: 1, maxLength: 4 },
  );

  it('changes no state, ends with what was heard, and rests on words that are there', () => {
    fc.assert(
      fc.property(lines, (all) => {
        let state = BEFORE;
        for (const line of all) {
          const copy = structuredClone(state);
          const events = say(state, line);
          expect(state).toEqual(copy);
          const heard = events.at(-1);
          expect(events.filter(({ type }) => type === 'heard')).toEqual([heard]);
          if (heard?.type === 'heard')
            for (const token of heard.used) expect(token).toBeLessThan(2 * heard.utterance.words.length);
          state = events.reduce(fold, state);
        }
      }),
    );
  });

  const cue = fc.constantFrom(
    ...checklist.steps.flatMap(({ cues = [] }) => cues).map((said) => said.replace(/^i /, '')),
  );
  const denial = fc.constantFrom('I have not', 'I did not', 'I forgot to', 'I never', "I haven't");

  it('never credits by a denied saying alone', () => {
    fc.assert(
      fc.property(denial, cue, (denies, said) => {
        const doing = last(`${denies} ${said}.`).filter(
          ({ type }) => type === 'credited' || type === 'reading' || type === 'repetition',
        );
        expect(doing).toEqual([]);
      }),
    );
  });
});

describe('the moments that matter', () => {
  it('are where a clock moves inside an utterance, not at its edge', () => {
    const moments = (text: string): number[] => {
      const events = last(text);
      return momentsWanted(events, heardClearly(0, text, 0));
    };
    expect(moments('I scrub with soap.')).toEqual([]);
    expect(moments('I scrub with soap. And that is that.')).toEqual([3]);
  });
});
