import { createHash } from 'node:crypto';
import path from 'node:path';
import type { CarriedSkill } from '../../app/bundle/manifest.ts';
import { openBundle, type OpenBundle } from '../../app/bundle/read.ts';
import { writeBundle, type AttemptToCarry } from '../../app/bundle/write.ts';
import type { RehearsalEvent, ReviewEvent } from '../../app/marking/events.ts';
import type { Trainee } from '../../app/people/trainee.ts';
import { headerLine } from '../../app/records/journal.ts';
import { narrate, shipped } from '../rehearsal/making/narrate.ts';

/** A person who agreed that sound is kept, unless said otherwise. */
export const person = (id: number, name: string, className = '', agreed = true): Trainee => ({
  id: uuid(id),
  name,
  class: className,
  consent: { agreed, text: 1, at: '2026-01-01T00:00:00.000Z' },
});

/** A UUID that is the same each time. */
export const uuid = (n: number): string => `00000000-0000-4000-8000-${String(n).padStart(12, '0')}`;

const checklist = shipped('hand-washing');
export const LINES = ['I am wetting my hands and wrists.', 'Getting some soap.', 'Scrubbing my palms.'];

/** The journal of a rehearsal in which these lines were said. */
export function journal(
  trainee: string | null,
  startedAt: string,
  lines: readonly string[] = LINES,
  more: readonly RehearsalEvent[] = [{ type: 'ended', at: 60 }],
): string {
  const { skill, variants } = checklist;
  const header = headerLine({
    schema: 1,
    skill: skill.id,
    version: skill.version,
    variants,
    style: 'coach',
    engine: 'made/narrated',
    startedAt,
    trainee,
  });
  const events: RehearsalEvent[] = [
    { type: 'began', skill: skill.id, variants },
    ...narrate(checklist, lines).events,
    ...more,
  ];
  return header + linesOf(events);
}

export const linesOf = (events: readonly RehearsalEvent[]): string =>
  events.map((event) => `${JSON.stringify(event)}\n`).join('');

export const verdict = (step: string, said: 'yes' | 'no' | 'unsure', minute = 0): ReviewEvent => ({
  type: 'reviewed',
  by: 'R. Ortega',
  madeAt: `2026-11-30T09:${String(minute).padStart(2, '0')}:00.000Z`,
  skill: 0,
  step,
  verdict: said,
  reason: '',
  heardAt: null,
  blind: true,
});

/** The id of a record that began at a second of a day. */
export const record = (second: number): string =>
  `20261101T${new Date(second * 1000).toISOString().slice(11, 19).replaceAll(':', '')}Z-hand-washing`;
export const startOf = (second: number): string =>
  `2026-11-01T${new Date(second * 1000).toISOString().slice(11)}`;

/** An attempt to carry: what was said, who said it, and its sound. */
export function attempt(
  second: number,
  trainee: Trainee | null,
  {
    text = journal(trainee?.id ?? null, startOf(second)),
    sound = null,
    keepUntil = null,
  }: { readonly text?: string; readonly sound?: string | null; readonly keepUntil?: string | null } = {},
): AttemptToCarry {
  const bytes = Buffer.from(text);
  return {
    record: record(second),
    trainee,
    keepUntil,
    files: [
      { path: 'journal.jsonl', content: bytes },
      ...(sound === null ? [] : [{ path: 'sound.flac' as const, content: Buffer.from(sound) }]),
    ],
  };
}

export const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');

let bundles = 0;
/** A bundle's file in a folder. */
export async function bundleFile(
  folder: string,
  attempts: readonly AttemptToCarry[],
  skills: readonly CarriedSkill[] = [],
): Promise<string> {
  const file = path.join(folder, `${++bundles}.sinkside.zip`);
  await writeBundle(file, attempts, skills);
  return file;
}

/** The same, opened. */
export async function bundle(...of: Parameters<typeof bundleFile>): Promise<OpenBundle> {
  return openBundle(await bundleFile(...of));
}
