import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import { narrate, shipped } from '../../../tests/rehearsal/making/narrate.ts';
import { AgreementSchema } from '../../agreement/agreement.ts';
import { openLibrary } from '../../library/library.ts';
import type { RehearsalEvent, ReviewEvent } from '../../marking/events.ts';
import { Rehearsals } from '../../records/rehearsals.ts';
import { run } from './agreement.ts';

let data = '';
const checklist = shipped('hand-washing');
const { state, events } = narrate(checklist, [
  'I am wetting my hands and wrists.',
  'Getting some soap.',
  'Bubbles everywhere.',
]);
const verdict = (step: string, said: 'yes' | 'no', heardAt: number | null = null): ReviewEvent => ({
  type: 'reviewed',
  by: 'R. Ortega',
  madeAt: '2026-11-30T09:00:00.000Z',
  skill: 0,
  step,
  verdict: said,
  reason: '',
  heardAt,
  blind: true,
});

beforeAll(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-agreement-'));
  const rehearsals = new Rehearsals(data, await openLibrary());
  const begun = {
    skill: 'hand-washing',
    version: checklist.skill.version,
    variants: {},
    style: 'coach' as const,
    engine: 'moonshine/moonshine-tiny-en',
    startedAt: '2026-11-30T08:00:00.000Z',
  };
  const { id, writer } = await rehearsals.create(begun);
  await rehearsals.create(begun);
  const bubbles = state.utterances.at(-1)?.start ?? 0;
  const rehearsed: RehearsalEvent[] = [
    { type: 'began', skill: 'hand-washing', variants: checklist.variants },
    ...events,
    { type: 'ended', at: 60 },
  ];
  await rehearsals.addEvents(id, 0, rehearsed, writer);
  await rehearsals.addReview(id, [
    verdict('wet', 'yes'),
    verdict('soap', 'no'),
    verdict('lather', 'yes', bubbles + 1),
    verdict('scrub', 'no'),
  ]);
});
afterAll(() => rm(data, { recursive: true }));

async function said(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const told = { out: '', err: '' };
  const io = {
    out: (text: string) => void (told.out += text),
    err: (text: string) => void (told.err += text),
    isTerminal: false,
  };
  return { code: await run(args, io), ...told };
}

describe('sinkside agreement', () => {
  it('has a published JSON Schema that says the same as the code', async () => {
    const schema = z.toJSONSchema(AgreementSchema, { target: 'draft-2020-12' });
    // After a change of the document: npx vitest run app/cli/kept/agreement.test.ts -u
    await expect(`${JSON.stringify(schema, null, 2)}\n`).toMatchFileSnapshot('agreement.schema.json');
  });

  it('counts over the reviewed rehearsals of a data folder, in a document that an independent validator takes', async () => {
    const { code, out, err } = await said(data, '--json');
    expect([code, err]).toEqual([0, '']);
    const validate = new Ajv2020().compile(z.toJSONSchema(AgreementSchema, { target: 'draft-2020-12' }));
    expect(validate(JSON.parse(out)), JSON.stringify(validate.errors)).toBe(true);
    const { all, attempts, blind, suggestions } = AgreementSchema.parse(JSON.parse(out));
    expect({ attempts, blind }).toEqual({ attempts: 1, blind: 4 });
    expect(all).toMatchObject({ judged: 4, bothYes: 1, bothNo: 1, falseCredits: 1, misses: 1, kappa: 0 });
    expect(suggestions).toEqual([
      { skill: 'hand-washing', step: 'lather', said: 'Bubbles everywhere.', times: 1 },
    ]);
  });

  it('tells the same in words, with how it was computed and the caution', async () => {
    const { out } = await said(data);
    expect(out).toContain('agree on 0.50; kappa 0.00 (95 %: -0.98 to 0.98)');
    expect(out).toContain('hand-washing/soap: false credits 1');
    expect(out).toContain('"Bubbles everywhere."');
    expect(out).toMatch(/Fleiss, Cohen and Everitt/);
    expect(out).toMatch(/trained observer decides/);
  });

  it('is a page that works alone, to be printed', async () => {
    const { code, out } = await said(data, '--html');
    expect([code, out.startsWith('<!doctype html>')]).toEqual([0, true]);
    expect(out).toMatch(/hand-washing, version \d/);
    expect(out).toContain('−0.98 to 0.98');
    expect(out).toMatch(/trained observer decides/);
  });

  it('says so where nothing was reviewed, or no folder was named', async () => {
    const empty = await mkdtemp(path.join(tmpdir(), 'sinkside-agreement-'));
    const { code, out, err } = await said(empty);
    expect([code, out]).toEqual([3, '']);
    expect(err).toMatch(/No reviewed rehearsal/);
    await rm(empty, { recursive: true });
    expect((await said()).code).toBe(2);
    expect((await said(empty, '--json', '--html')).code).toBe(2);
  });
});
