import { openLibrary } from '../../../app/library/library.ts';
import { makeChecklist, type Checklist } from '../../../app/skills/checklist.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import { interpret } from '../../../app/interpreting/interpret.ts';
import { markRehearsal } from '../../../app/marking/result.ts';
import { BEFORE, fold, type State } from '../../../app/marking/state.ts';
import type { Utterance } from '../../../app/language/utterance.ts';

/** Seconds a word takes in a made-up utterance. */
const WORD = 0.35;

const library = await openLibrary();

const checklists = new Map<string, Checklist>();

/** The checklist of a skill that comes with the program, made once. */
export function shipped(skill: string, variants: Readonly<Record<string, string>> = {}): Checklist {
  const key = JSON.stringify([skill, variants]);
  const list =
    checklists.get(key) ??
    makeChecklist(library.skills.get(skill)!, library.lexicon, library.rules, variants);
  checklists.set(key, list);
  return list;
}

/** An utterance as a perfect recogniser would hand it over. */
export function utterance(text: string, start = 0, id = 0): Utterance {
  const words = text.split(/\s+/).map((word, i) => ({
    text: word,
    start: start + i * WORD,
    end: start + (i + 1) * WORD,
    uncertainty: 0.02,
  }));
  return { id, text, start, end: start + words.length * WORD, uncertainty: 0.02, confidence: 0.95, words };
}

/** Says lines one after the other; a number is a pause in seconds, two seconds stand between lines otherwise. */
export function narrate(
  checklist: Checklist,
  lines: readonly (string | number)[],
): {
  state: State;
  events: RehearsalEvent[];
  marks: ReturnType<typeof markRehearsal>;
  outcomes: Record<string, string>;
} {
  let state = BEFORE;
  let now = 0;
  const events: RehearsalEvent[] = [];
  lines.forEach((line, i) => {
    if (typeof line === 'number') {
      now += line;
      return;
    }
    const heard = utterance(line, now, i);
    const led = interpret(checklist, state, heard);
    events.push(...led);
    state = led.reduce(fold, state);
    now = heard.end + (typeof lines[i + 1] === 'number' ? 0 : 2);
  });
  const marks = markRehearsal(checklist, state);
  return { state, events, marks, outcomes: Object.fromEntries(marks.steps.map((s) => [s.id, s.outcome])) };
}
