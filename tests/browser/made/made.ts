import { readFile } from 'node:fs/promises';
import { parse } from 'yaml';
import { z } from 'zod';
import { CreatedSchema, MOST_SOUND_BYTES, WRITER_HEADER, type NewRehearsal } from '../../../app/host/api.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { shipped } from '../../rehearsal/making/narrate.ts';
import { rehearse } from '../../rehearsal/making/rehearse.ts';
import { planFor, sit } from '../../rehearsal/making/sit.ts';

/** Rehearsals made for screens and tests: narrations of the core's tests, kept through the host's own API. */

const NarrationSchema = z.object({ skill: z.string(), says: z.array(z.union([z.string(), z.number()])) });

/** The lines of a narration in skills/narrations, and its skill. */
export async function narration(name: string): Promise<z.output<typeof NarrationSchema>> {
  const file = new URL(`../../../skills/narrations/${name}.yaml`, import.meta.url);
  return NarrationSchema.parse(parse(await readFile(file, 'utf8')));
}

/** The events of a narration, and the second at which it ends. */
export async function rehearsed(name: string, lines?: number) {
  const { skill, says } = await narration(name);
  return { skill, ...(await rehearse(shipped(skill), says.slice(0, lines))) };
}

/**
 * Keeps a narrated rehearsal with a quiet tone as its sound, and answers its id.
 *
 * @param lines it was cut off after so many
 * @param besides what happened with a simulated resident, put in after the beginning
 */
export async function keepRehearsal(
  host: string,
  name: string,
  startedAt: string,
  lines?: number,
  besides: readonly RehearsalEvent[] = [],
) {
  const { skill, events: narrated, now } = await rehearsed(name, lines);
  const events = [...narrated.slice(0, 1), ...besides, ...narrated.slice(1)];
  const kept = lines === undefined ? events : events.filter(({ type }) => type !== 'ended');
  return keep(host, { skill, startedAt, variants: {} }, kept, now);
}

/** Keeps a mock test of several narrations, one after the other, and answers its id. */
export async function keepTest(host: string, names: readonly string[], startedAt: string): Promise<string> {
  const told = await Promise.all(names.map(narration));
  const plan = planFor(told.map(({ skill }) => skill));
  const script = told.flatMap(({ says }, i) => [...(i > 0 ? ['Next skill.'] : ['I am ready.']), ...says]);
  const { events, now } = await sit(plan, script);
  const [first] = told;
  if (!first) throw new Error('A test needs a narration.');
  return keep(host, { skill: first.skill, startedAt, variants: {}, form: 'by hand' }, events, now);
}

async function keep(
  host: string,
  about: Pick<NewRehearsal, 'skill' | 'startedAt' | 'variants' | 'form'>,
  events: readonly RehearsalEvent[],
  seconds: number,
): Promise<string> {
  const tone = Int16Array.from(
    { length: Math.ceil(seconds * SAMPLE_RATE) },
    (_, i) => 2000 * Math.sin(i / 6),
  );
  const header: NewRehearsal = { ...about, style: 'coach', engine: 'moonshine/moonshine-tiny-en' };
  const created = await post(`${host}api/rehearsals`, 'application/json', JSON.stringify(header));
  const { id, writer } = CreatedSchema.parse(await created.json());
  const at = `${host}api/rehearsals/${id}`;
  await post(`${at}/events`, 'application/json', JSON.stringify({ from: 0, events }), writer);
  const piece = MOST_SOUND_BYTES / tone.BYTES_PER_ELEMENT;
  for (let from = 0; from < tone.length; from += piece)
    await post(
      `${at}/sound?from=${from}`,
      'application/octet-stream',
      tone.slice(from, from + piece),
      writer,
    );
  return id;
}

async function post(url: string, type: string, body: BodyInit, writer = ''): Promise<Response> {
  const response = await fetch(url, {
    method: 'POST',
    headers: { 'content-type': type, [WRITER_HEADER]: writer },
    body,
  });
  if (!response.ok) throw new Error(`${url} answered ${response.status}: ${await response.text()}`);
  return response;
}
