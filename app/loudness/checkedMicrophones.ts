import { z } from 'zod';
import { describeDistance, describeExpectation } from './expectation.ts';
import { recallTableOf } from './recallTable.ts';

/** A microphone that a sound check has measured beside a running tap. */
export const CheckedMicrophoneSchema = z
  .object({
    /** What the system calls it. Known again by this: the browser's ids change with the page's address. */
    label: z.string(),
    /** The browser's id that was asked for; null for the system's own choice. Tells which it is before any name may be read. */
    device: z.string().nullable(),
    at: z.iso.datetime(),
    /** Levels in dBov and the one less the other in dB; null where no words came through. */
    measured: z.object({ speech: z.number(), noise: z.number(), snr: z.number() }).readonly().nullable(),
    /** What listened, as records name it; the expectation is that one's. */
    listening: z.string(),
    /** Whether the browser cleaned the sound up, which no table was measured with. */
    cleaned: z.boolean(),
  })
  .readonly();
export type CheckedMicrophone = z.infer<typeof CheckedMicrophoneSchema>;

/** How many are kept: more than anybody owns, few enough for a settings file. */
const MOST = 20;

/** The latest check of each microphone, the newest first. */
export function remember(
  checked: readonly CheckedMicrophone[],
  latest: CheckedMicrophone,
): CheckedMicrophone[] {
  return [latest, ...checked.filter(({ label }) => nameOf(label) !== nameOf(latest.label))].slice(0, MOST);
}

/**
 * The last check of a microphone; null for one that is new.
 *
 * @param label what the system calls it; null where that may not be read yet: then the one last checked under that device id is meant
 * @param device the id that is set; null for the system's own choice
 */
export function checkOf(
  checked: readonly CheckedMicrophone[],
  label: string | null,
  device: string | null,
): CheckedMicrophone | null {
  const same = (each: CheckedMicrophone): boolean =>
    label === null ? each.device === device : nameOf(each.label) === nameOf(label);
  return checked.find(same) ?? null;
}

/** Some browsers write this before the name of the microphone that is the system's choice. */
const nameOf = (label: string): string => label.replace(/^Default - /, '').trim();

/**
 * What the last check makes one expect, in sentences for the trainee; without its day.
 *
 * @param listening what will listen, as records name it, where that may be another since
 */
export function describeCheck(
  check: Pick<CheckedMicrophone, 'measured' | 'listening' | 'cleaned'>,
  listening = check.listening,
): string {
  const { measured, cleaned } = check;
  if (!measured) return 'No words came through beside the tap.';
  const distance = `Your voice was ${describeDistance(measured.snr)}.`;
  if (cleaned)
    return `${distance} How much is heard with the clean-up of the sound switched on has not been measured.`;
  return `${distance} ${describeExpectation(recallTableOf(listening), measured.snr)}`;
}
