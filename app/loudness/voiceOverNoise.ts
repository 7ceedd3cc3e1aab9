import type { StepMark, VoiceOverNoise } from '../marking/assessment.ts';
import type { Loudness, RehearsalEvent } from '../marking/events.ts';
import type { Stretch } from '../marking/state.ts';
import { minutes } from '../marking/testClock.ts';
import { comfortableFrom, describeDistance } from './expectation.ts';
import { recallTableOf } from './recallTable.ts';

/** How loud the stretches of a recording were, as its events tell. */
export const loudnessIn = (events: readonly RehearsalEvent[]): Loudness[] =>
  events.filter((event): event is Loudness => event.type === 'loudness');

/** The stretches that lie in a part of the recording, seconds. */
export const loudnessWithin = (loudness: readonly Loudness[], { from, to }: Stretch): Loudness[] =>
  loudness.filter((each) => each.from < to && each.to > from);

/** Seconds of noise that make its loudest level: a tap, not a splash. */
const LOUDEST_LASTS = 2;

/** Share of the time in which a step was due that must have been too loud for that to explain its miss. */
const MOSTLY = 0.5;

/**
 * How the voice stood over the noise in a rehearsal or a skill of a test, and which misses that may explain. Pure. Null where no noise or no voice could be
 * measured, and for journals of old.
 *
 * @param marks the marks of its steps, in the order of the checklist
 * @param span when it began and ended, seconds of the recording
 * @param listening what listened, as records name it
 */
export function voiceOverNoise(
  loudness: readonly Loudness[],
  marks: readonly StepMark[],
  span: Stretch,
  listening: string,
): VoiceOverNoise | null {
  const noises = loudness.filter(({ of }) => of === 'noise');
  const speech = middle(loudness.filter(({ of }) => of === 'speech'));
  const noise = middle(noises);
  if (speech === null || noise === null) return null;
  const table = recallTableOf(listening);
  const comfortable = table && comfortableFrom(table);
  // In whole decibels, as they are told and as finely as they can be measured.
  const isLoud = ({ level }: Loudness): boolean =>
    comfortable !== null && Math.round(speech - level) < comfortable;
  const explains = marks.filter((mark, i) => {
    const due = dueAt(mark, marks.slice(0, i), marks.slice(i + 1), span);
    if (!due) return false;
    const during = noiseDuring(noises, due);
    return lasting(during) > 0 && lasting(during.filter(isLoud)) >= MOSTLY * lasting(during);
  });
  return {
    speech,
    noise,
    distance: speech - noise,
    least: speech - loudest(noises),
    comfortable,
    loudSeconds: lasting(noises.filter(isLoud)),
    ofSeconds: lasting(noises),
    explains: explains.map(({ id }) => id),
  };
}

/**
 * When a step that is not heard or unsure was said or due: its own words where there are some; else from the last step heard before it in the list to the
 * first one heard after it. Null for other steps, for one whose words were heard and did not do, and where the order does not tell.
 */
function dueAt(
  mark: StepMark,
  before: readonly StepMark[],
  after: readonly StepMark[],
  span: Stretch,
): Stretch | null {
  if (mark.outcome === 'unsure' && mark.evidence) return { from: mark.evidence.start, to: mark.evidence.end };
  if (mark.outcome !== 'not heard' || mark.evidence) return null;
  const isSaid = ({ outcome, evidence }: StepMark): boolean => outcome === 'heard' && evidence !== null;
  const from = before.findLast(isSaid)?.evidence?.end ?? span.from;
  const to = after.find(isSaid)?.evidence?.start ?? span.to;
  return from <= to ? { from, to } : null;
}

/** The noise in a stretch; where none was measured in it, as while somebody speaks, the last before and the first after it. */
function noiseDuring(noises: readonly Loudness[], stretch: Stretch): Loudness[] {
  const within = loudnessWithin(noises, stretch);
  if (within.length > 0) return within;
  const before = noises.findLast(({ to }) => to <= stretch.from);
  const after = noises.find(({ from }) => from >= stretch.to);
  return [before, after].filter((each) => each !== undefined);
}

/** The level in the middle of their time, dBov; null of none. */
function middle(stretches: readonly Loudness[]): number | null {
  const half = lasting(stretches) / 2;
  let passed = 0;
  for (const stretch of [...stretches].sort((a, b) => a.level - b.level)) {
    passed += stretch.to - stretch.from;
    if (passed >= half) return stretch.level;
  }
  return null;
}

/** The level that the loudest noises reach, which last {@link LOUDEST_LASTS} in all. */
function loudest(noises: readonly Loudness[]): number {
  let passed = 0;
  let level = -Infinity;
  for (const noise of [...noises].sort((a, b) => b.level - a.level)) {
    level = noise.level;
    passed += noise.to - noise.from;
    if (passed >= LOUDEST_LASTS) break;
  }
  return level;
}

const lasting = (stretches: readonly Stretch[]): number =>
  stretches.reduce((sum, { from, to }) => sum + to - from, 0);

/** How loud the tap was, in sentences for the trainee; which misses it may explain is for the caller to list. */
export function describeVoiceOverNoise({
  distance,
  least,
  comfortable,
  loudSeconds,
  ofSeconds,
}: VoiceOverNoise): string[] {
  const worst = `Where the tap was loudest, your voice was ${describeDistance(least)}.`;
  const usual = `Mostly it was ${describeDistance(distance, 'the sounds around you')}.`;
  // What rounds to the same number is not told twice.
  const distances = Math.round(distance) === Math.round(least) ? worst : `${worst} ${usual}`;
  if (comfortable === null)
    return [distances, 'From how many dB on this speech model hears well has not been measured.'];
  const enough = `${Math.ceil(comfortable)} dB`;
  return [
    distances,
    loudSeconds < LOUDEST_LASTS
      ? `That is loud enough: from ${enough} on, most of what is said is heard.`
      : `For ${minutes(loudSeconds)} of ${minutes(ofSeconds)} min between your words the tap was too loud: less than ${enough} under your voice. Let less water run, come nearer to the microphone, or clip it on.`,
  ];
}

/** What to say before the steps that loud noise may explain. */
export const MAY_EXPLAIN = 'This may be why these steps were not heard, or not surely:';
