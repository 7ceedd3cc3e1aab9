import { openLibrary, readNarrations, SHIPPED_SKILLS } from '../../../app/library/library.ts';
import type { RehearsalEvent, ReviewEvent } from '../../../app/marking/events.ts';
import { headerLine } from '../../../app/records/journal.ts';
import { encode } from '../../../app/records/packing/flac.ts';
import { SOUND_RATE } from '../../../app/records/soundTrack.ts';
import { makeChecklist } from '../../../app/skills/checklist.ts';
import { rehearse } from '../../rehearsal/making/rehearse.ts';

/** A rehearsal that the program's core made of a narration: all but who and when. */
export interface Rehearsed {
  readonly skill: string;
  readonly version: number;
  readonly variants: Readonly<Record<string, string>>;
  /** The journal's lines behind its header. */
  readonly lines: string;
  /** A step of it, to be reviewed. */
  readonly step: string;
}

/** Plays the first so many of the narrations that lie beside the skills. */
export async function playedNarrations(most: number): Promise<Rehearsed[]> {
  const { skills, lexicon, rules } = await openLibrary();
  const played: Rehearsed[] = [];
  for (const { skill: id, variants, says } of (await readNarrations(SHIPPED_SKILLS)).slice(0, most)) {
    const skill = skills.get(id);
    if (!skill) continue;
    const checklist = makeChecklist(skill, lexicon, rules, variants);
    const { events } = await rehearse(checklist, says);
    played.push({
      skill: id,
      version: skill.version,
      variants,
      lines: events.map(lineOf).join(''),
      step: checklist.steps[0]?.id ?? '',
    });
  }
  return played;
}

const lineOf = (event: RehearsalEvent): string => `${JSON.stringify(event)}\n`;

/** The journal of somebody who rehearsed like that at that moment. */
export function journalOf(
  { skill, version, variants, lines }: Rehearsed,
  trainee: string,
  startedAt: string,
): string {
  const header = {
    schema: 1,
    skill,
    version,
    variants,
    style: 'coach',
    engine: 'made/narrated',
    startedAt,
    trainee,
  } as const;
  return headerLine(header) + lines;
}

/** What a person adds to it, as a line of the journal. */
export function reviewLine({ skill, step }: Rehearsed, madeAt: string): string {
  const review: ReviewEvent = {
    type: 'reviewed',
    by: 'Ms. Instructor',
    madeAt,
    skill: 0,
    step,
    verdict: 'yes',
    reason: `heard in the recording of ${skill}`,
    heardAt: null,
    blind: false,
  };
  return lineOf(review);
}

/** Faint noise of so many seconds, which a seed makes, as a FLAC file. */
export async function madeSound(seconds: number, seed: number): Promise<Buffer> {
  const samples = Buffer.alloc(2 * seconds * SOUND_RATE);
  let state = seed >>> 0;
  for (let at = 0; at < samples.length; at += 2) {
    // A linear congruential generator with the constants of Numerical Recipes (from memory): only noise is wanted.
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    samples.writeInt16LE((state >>> 22) - 512, at);
  }
  async function* pieces(): AsyncGenerator<Uint8Array> {
    for (let at = 0; at < samples.length; at += SOUND_RATE) yield samples.subarray(at, at + SOUND_RATE);
  }
  const packed: Uint8Array[] = [];
  for await (const piece of encode(pieces(), seconds * SOUND_RATE)) packed.push(piece);
  return Buffer.concat(packed);
}
