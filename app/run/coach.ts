import type { Checklist } from '../skills/checklist.ts';
import { longestRun, secondsSoFar } from '../marking/clocks.ts';
import type { Command } from '../language/commands.ts';
import { repetitions } from '../marking/counts.ts';
import { wordingOf } from '../matching/cue.ts';
import { spellings } from '../language/numbers.ts';
import { interpret } from '../interpreting/interpret.ts';
import type { markRehearsal } from '../marking/result.ts';
import type { Lexicon, Step } from '../skills/skill.ts';
import { inFirstPerson } from '../skills/stepText.ts';
import { BEFORE, fold, type State, type Stretch } from '../marking/state.ts';
import { elapsed, timeLeft } from '../marking/testClock.ts';
import { utteranceOf } from '../language/utterance.ts';
import { capitalised, piecesOf } from '../language/words.ts';

/**
 * What the coach says. Its sayings name no step beyond what the card names, and are short: while it speaks, the trainee is
 * not heard well.
 */

/**
 * What the coach answers to a command.
 *
 * @param state after the command
 * @param now seconds of the recording
 */
export function replyTo(checklist: Checklist, state: State, command: Command, now: number): string {
  switch (command) {
    case 'begin':
      return 'You may begin. Say each step aloud as you do it.';
    case 'read card':
      return checklist.skill.card.replace(/\s+/g, ' ').trim();
    case 'time left':
      return sayTimeLeft(checklist, state, now);
    case 'scrub time':
      return sayTimed(state, now);
    case 'pause':
      return Object.values(state.clocks).some(({ run }) => run)
        ? 'Paused. The clock has stopped. Say "go on" when you are ready, and start the timed step again.'
        : 'Paused. Say "go on" when you are ready.';
    case 'go on':
      return 'Going on.';
    case 'correct':
      return 'Go ahead. Say the whole step again, the right way.';
    case 'next skill':
      return 'This skill is closed.';
    case 'stop':
      return 'The rehearsal has ended.';
  }
}

/** Times are rounded down: the coach never promises more than there is. */
function sayTimeLeft({ rules }: Checklist, state: State, now: number): string {
  const left = timeLeft(rules, state, now);
  if (left === null) return `There is no limit. You have taken ${minutesOf(elapsed(state, now))} so far.`;
  if (left <= 0) return 'The time is up.';
  return left < 60 ? 'Less than a minute is left.' : `About ${minutesOf(left)} left.`;
}

const minutesOf = (seconds: number): string => {
  const minutes = Math.floor(seconds / 60);
  if (minutes < 1) return 'less than a minute';
  return minutes === 1 ? '1 minute' : `${minutes} minutes`;
};

/** The time of the go under way: its lower bound, rounded down, so that nobody stops too early on the coach's word. */
function sayTimed(state: State, now: number): string {
  const until = Math.min(now, state.paused ?? now);
  const clocks = Object.values(state.clocks);
  const running = clocks.find((clock) => clock.running) ?? clocks.find((clock) => clock.run);
  const soFar = running && secondsSoFar(running, until);
  if (soFar !== undefined && soFar !== null) return `About ${secondsOf(soFar)} so far.`;
  const over = clocks.map(longestRun).find((run) => run !== null);
  if (over) return `No clock is running. It was about ${secondsOf(over.seconds - over.uncertainty)}.`;
  return 'No clock is running yet. Say when you start.';
}

const secondsOf = (seconds: number): string => {
  const whole = Math.max(0, Math.floor(seconds));
  return whole === 1 ? '1 second' : `${whole} seconds`;
};

const NUDGES = [
  'What are you doing now? Say it aloud.',
  'I can only mark what I hear. Tell me what you are doing.',
  'Keep talking: one sentence for each step.',
];

/** A gentle word after a silence, each time another. When it is due, `nudgeDue` says. */
export function nudge({ spoken }: State): string {
  const given = spoken.filter(({ text }) => NUDGES.includes(text)).length;
  // The rest of a division by its length is one of its places.
  return NUDGES[given % NUDGES.length]!;
}

/** Seconds left at which the coach speaks of its own accord. */
const CALLS = [300, 60, 0];

/** What the coach says of the time left, when a call falls into the stretch of time from one moment to the next; else null. */
export function timeCall({ rules }: Checklist, state: State, { from, to }: Stretch): string | null {
  const [before, after] = [timeLeft(rules, state, from), timeLeft(rules, state, to)];
  if (!rules.timeCalls || before === null || after === null || state.ended !== null) return null;
  const call = CALLS.find((left) => before > left && after <= left);
  if (call === undefined) return null;
  return call === 0 ? 'The time is up.' : `${call / 60} ${call === 60 ? 'minute' : 'minutes'} left.`;
}

/** What the coach says at the end. Heard is not seen, and it says so. */
export function sayResult(checklist: Checklist, { result }: ReturnType<typeof markRehearsal>): string {
  const { heard, of, passed, criticalMissed } = result;
  const texts = criticalMissed.map((id) => checklist.steps.find((s) => s.id === id)?.text ?? id);
  const missed =
    texts.length === 0
      ? ''
      : ` ${texts.length === 1 ? 'A critical step was' : `${texts.length} critical steps were`} not credited: ${texts.join('; ')}.`;
  return (
    `The rehearsal has ended. I heard ${heard} of ${of} steps.${missed} ` +
    `${passed ? 'This practice run passes.' : 'This practice run does not pass yet.'} ` +
    'I can only hear, not see: your instructor decides.'
  );
}

/**
 * The best thing to say next time for a step: a sentence that would be credited for it. The step's own text said in the
 * first person where that is enough; else the first of its cues that is, its slots filled with their first wording. Null
 * for a step that words cannot show.
 */
export function bestSaying(checklist: Checklist, lexicon: Lexicon, step: Step): string | null {
  const { evidence } = step;
  if (evidence.kind === 'eyes') return null;
  const own = `${inFirstPerson(step.text)}.`;
  const cues = [...(step.cues ?? []), ...(evidence.kind === 'timed' ? evidence.start : [])];
  const filled = cues.map((cue) => sentence(wordingOf(cue, lexicon, 0)));
  const plain = withNumbers(own, step);
  const sayings = [plain, ...filled.map((saying) => withNumbers(saying, step))];
  return sayings.find((saying) => isFor(checklist, step, saying)) ?? plain;
}

/** Repetitions are counted aloud, and a reading is said with its number. */
function withNumbers(saying: string, { evidence }: Step): string {
  const open = saying.replace(/\.$/, '').replace(/ at least \w+ times$/, '');
  if (evidence.kind === 'counted') {
    const numbers = Array.from({ length: evidence.atLeast }, (_, i) => spellings(i + 1)[0]);
    return `${open}: ${numbers.join(', ')}.`;
  }
  return evidence.kind === 'reading' ? `${open}: … ${evidence.unit}.` : saying;
}

const sentence = (words: string): string => `${capitalised(words)}.`.replace(/\bi\b/g, 'I');

/** Whether a saying does what the step needs said, once the other steps have been. */
function isFor(checklist: Checklist, step: Step, saying: string): boolean {
  const utterance = utteranceOf({ id: 1, text: saying, start: 0, end: piecesOf(saying).length });
  const evidence = { utterance: 0, text: '', start: 0, end: 0, score: 1, manner: 'done' } as const;
  const others = checklist.steps.filter((s) => s !== step && s.evidence.kind === 'said');
  const credits = Object.fromEntries(others.map(({ id }) => [id, [evidence]]));
  const state = interpret(checklist, { ...BEFORE, credits }, utterance).reduce(fold, BEFORE);
  if (step.evidence.kind === 'counted')
    return repetitions(state.counts.movements[step.id]).sure >= step.evidence.atLeast;
  return step.id in state.credits;
}
