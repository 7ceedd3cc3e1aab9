import type { Assessment } from '../marking/assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import { LoudnessWatch } from '../loudness/watch.ts';
import { voiceOverNoise } from '../loudness/voiceOverNoise.ts';
import type { Loudness, RehearsalEvent } from '../marking/events.ts';
import type { RunState } from '../run/runState.ts';
import { CAUTION, markRehearsal } from '../marking/result.ts';
import type { State } from '../marking/state.ts';
import { practiceOf, type RunPlan, type TestPlan } from '../run/testPlan.ts';
import { inTurn } from '../meaning/inTurn.ts';
import type { Judge } from '../meaning/judge.ts';
import type { Transcript } from './transcript.ts';
import type { Utterance } from '../language/utterance.ts';
import type { Listener, ListenerEvent } from './listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { Run, type Pinpoint } from '../run/run.ts';

export interface ListenOptions {
  /** Phrases for the listener while a skill is open, see `vocabularyOf`. */
  readonly vocabulary: (checklist: Checklist) => readonly string[];
  readonly makeListener: (onEvent: (event: ListenerEvent) => void) => Listener | Promise<Listener>;
  readonly onEvents?: (events: readonly RehearsalEvent[]) => void;
  /** Seconds of sound taken in so far. */
  readonly onProgress?: (seconds: number) => void;
  /** Called before each piece of sound with its start in seconds; lets a caller keep real time. */
  readonly pace?: (seconds: number) => Promise<void>;
  /** Seconds of some steadily rising clock, to report the processing time. */
  readonly clock: () => number;
}

export interface AssessOptions extends ListenOptions {
  readonly checklist: Checklist;
  /** Name of the engine, for the document. */
  readonly engine: string;
  /** Whether it begins with hands just washed and the resident known. */
  readonly continued?: boolean;
}

/** What a recording and the listening to it came to. Times in seconds. */
interface Heard {
  readonly audioSeconds: number;
  readonly processingSeconds: number;
  readonly warnings: readonly string[];
  /** How loud its stretches were; none of a transcript. */
  readonly loudness: readonly Loudness[];
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
  const { checklist, engine } = options;
  const { run, heard } = await listenTo(sound, options, practiceOf(checklist, options.continued));
  return { assessment: toDocument(checklist, run.state, { engine, ...heard }), state: run.state };
}

/** Marks a transcript that was written elsewhere, as {@link assess} marks a recording. */
export async function assessTranscript(
  { utterances, seconds, warnings }: Transcript,
  options: Pick<AssessOptions, 'checklist' | 'engine' | 'continued' | 'clock'>,
  judge: Pick<Judge, 'expect' | 'judge'>,
): Promise<Assessment> {
  const { checklist, engine, clock } = options;
  const began = clock();
  const asIs: Pinpoint = (utterance) => Promise.resolve(utterance);
  const run = new Run(practiceOf(checklist, options.continued), asIs);
  await judge.expect(checklist.steps);
  const read = inTurn(judge);
  for (const utterance of utterances) await run.hear(await read(utterance));
  await run.end(seconds);
  const processingSeconds = clock() - began;
  const heard = { audioSeconds: seconds, processingSeconds, warnings, loudness: [] };
  return toDocument(checklist, run.state, { engine, ...heard });
}

/** Listens to the recording of a whole mock test; "next skill" said in it moves on. */
export async function assessTest(
  sound: AsyncIterable<Float32Array>,
  options: ListenOptions & { readonly plan: TestPlan },
): Promise<{ test: RunState; heard: Heard }> {
  const { run, heard } = await listenTo(sound, options, options.plan);
  return { test: run.soFar, heard };
}

/** Has a run hear a whole recording, and ends it. */
async function listenTo(
  sound: AsyncIterable<Float32Array>,
  options: ListenOptions,
  plan: RunPlan,
): Promise<{ run: Run; heard: Heard }> {
  const warnings: string[] = [];
  let pending: Promise<void> = Promise.resolve();
  let onUtterance: (utterance: Utterance) => Promise<void> = () => Promise.resolve();
  const listener = await options.makeListener((event) => {
    if (event.type === 'utterance') pending = onUtterance(event.utterance);
    if (event.type === 'trouble') warnings.push(event.trouble.message);
  });
  const watch = new LoudnessWatch();
  const happened: RehearsalEvent[] = [];
  const run = new Run(
    plan,
    (utterance, wanted) => listener.pinpoint(utterance, wanted),
    (events) => {
      for (const event of events) happened.push(event);
      options.onEvents?.(events);
    },
  );
  onUtterance = (utterance) => run.hear(utterance);

  const began = options.clock();
  let waited = 0;
  let samples = 0;
  let { checklist } = run;
  await listener.start({ phrases: options.vocabulary(checklist), steps: checklist.steps });
  for await (const piece of sound) {
    const before = options.clock();
    await options.pace?.(samples / SAMPLE_RATE);
    waited += options.clock() - before;
    await listener.feed(piece);
    await pending;
    if (run.checklist !== checklist) {
      ({ checklist } = run);
      await listener.expect({ phrases: options.vocabulary(checklist), steps: checklist.steps });
    }
    samples += piece.length;
    watch.feed(piece);
    options.onProgress?.(samples / SAMPLE_RATE);
  }
  await listener.stop();
  await pending;
  // Only now: a listener may tell of words before their sound has been fed to the watch as well.
  const loudness = [...watch.take(happened), ...watch.end()];
  const processingSeconds = options.clock() - began - waited;
  const audioSeconds = samples / SAMPLE_RATE;
  await run.end(audioSeconds);
  return { run, heard: { audioSeconds, processingSeconds, warnings, loudness } };
}

/** The document of a rehearsal that has been heard. */
export function toDocument(
  checklist: Checklist,
  state: State,
  { loudness, ...about }: Heard & Pick<Assessment, 'engine'>,
): Assessment {
  const { skill, variants } = checklist;
  const heard = [...state.utterances.map((utterance) => ({ utterance, why: null })), ...state.asides].sort(
    (a, b) => a.utterance.start - b.utterance.start,
  );
  const silent = heard.length === 0 ? ['No speech was found in this recording.'] : [];
  const marks = markRehearsal(checklist, state);
  const span = { from: 0, to: state.ended ?? about.audioSeconds };
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
    ...marks,
    voiceOverNoise: voiceOverNoise(loudness, marks.steps, span, about.engine),
    caution: CAUTION,
  };
}
