import type { Assessment } from '../rehearsal/assessment.ts';
import type { Checklist } from '../rehearsal/checklist.ts';
import type { RehearsalEvent } from '../rehearsal/events.ts';
import { CAUTION, markRehearsal } from '../rehearsal/result.ts';
import type { State } from '../rehearsal/state.ts';
import type { Utterance } from '../rehearsal/utterance.ts';
import { SAMPLE_RATE, type Listener, type ListenerEvent } from './listener.ts';
import { Session } from './session.ts';

export interface AssessOptions {
  readonly checklist: Checklist;
  /** Phrases for the listener, see `vocabularyOf`. */
  readonly vocabulary: readonly string[];
  /** Name of the engine, for the document. */
  readonly engine: string;
  readonly makeListener: (onEvent: (event: ListenerEvent) => void) => Listener | Promise<Listener>;
  readonly onEvents?: (events: readonly RehearsalEvent[]) => void;
  /** Seconds of sound taken in so far. */
  readonly onProgress?: (seconds: number) => void;
  /** Called before each piece of sound with its start in seconds; lets a caller keep real time. */
  readonly pace?: (seconds: number) => Promise<void>;
  /** Seconds of some steadily rising clock, to report the processing time. */
  readonly clock: () => number;
}

/**
 * Listens to a whole recording and marks it.
 *
 * @param sound mono samples at 16 kHz, in pieces of any size
 * @returns the document and the state it came from; warnings of the recording itself are the caller's to add
 */
export async function assess(
  sound: AsyncIterable<Float32Array>,
  options: AssessOptions,
): Promise<{ assessment: Assessment; state: State }> {
  const { checklist } = options;
  const warnings: string[] = [];
  let pending: Promise<void> = Promise.resolve();
  let onUtterance: (utterance: Utterance) => Promise<void> = () => Promise.resolve();
  const listener = await options.makeListener((event) => {
    if (event.type === 'utterance') pending = onUtterance(event.utterance);
    if (event.type === 'trouble') warnings.push(event.trouble.message);
  });
  const session = new Session(
    checklist,
    (utterance, wanted) => listener.pinpoint(utterance, wanted),
    options.onEvents,
  );
  onUtterance = (utterance) => session.hear(utterance);

  const began = options.clock();
  let waited = 0;
  let samples = 0;
  await listener.start({ phrases: options.vocabulary });
  for await (const piece of sound) {
    const before = options.clock();
    await options.pace?.(samples / SAMPLE_RATE);
    waited += options.clock() - before;
    await listener.feed(piece);
    await pending;
    samples += piece.length;
    options.onProgress?.(samples / SAMPLE_RATE);
  }
  await listener.stop();
  await pending;
  const audioSeconds = samples / SAMPLE_RATE;
  const state = await session.end(audioSeconds);
  const processingSeconds = options.clock() - began - waited;
  return {
    assessment: toDocument(checklist, state, {
      engine: options.engine,
      audioSeconds,
      processingSeconds,
      warnings,
    }),
    state,
  };
}

/** The document of a rehearsal that has been heard. */
export function toDocument(
  checklist: Checklist,
  state: State,
  about: Pick<Assessment, 'engine' | 'audioSeconds' | 'processingSeconds' | 'warnings'>,
): Assessment {
  const { skill, variants } = checklist;
  const heard = [...state.utterances.map((utterance) => ({ utterance, why: null })), ...state.asides].sort(
    (a, b) => a.utterance.start - b.utterance.start,
  );
  const silent = heard.length === 0 ? ['No speech was found in this recording.'] : [];
  return {
    schema: 1,
    skill: { id: skill.id, title: skill.title, variants: { ...variants } },
    ...about,
    warnings: [...about.warnings, ...silent],
    utterances: heard.map(({ utterance: { id, text, start, end, confidence, words }, why }) => ({
      id,
      text,
      start,
      end,
      confidence,
      words: words.map((w) => ({ text: w.text, start: w.start, end: w.end, uncertainty: w.uncertainty })),
      ...(why && { aside: why }),
    })),
    ...markRehearsal(checklist, state),
    caution: CAUTION,
  };
}
