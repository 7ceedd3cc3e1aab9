import { describe, expect, it } from 'vitest';
import type { People, Rehearsal, Trainee } from '../../app/host/api.ts';
import { CONSENT_TEXT } from '../../app/people/consent.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { goesOnAs, lengthOf, rehearserOf } from './rehearser.ts';

const ID = '0b6f7c52-8f0e-4d8e-9f9c-3f6f2f1c2a10';
const kim = (agreed: boolean | null, text = CONSENT_TEXT): Trainee => ({
  id: ID,
  name: 'Kim',
  class: '',
  consent: agreed === null ? null : { agreed, text, at: '2026-01-31T09:30:00Z' },
});
const people = (trainee: Trainee, chosen: string | null = ID): People => ({
  trainees: [trainee],
  chosen,
  isInstructor: true,
  hasPassphrase: false,
  keptDays: null,
  deleted: null,
  school: null,
});
const never = (): never => expect.fail('nobody is to be asked');

describe('who begins a rehearsal', () => {
  it('is asked only where there is no answer to the text of today', async () => {
    const asked = (agreed: boolean | null) => () => Promise.resolve(agreed);
    expect(await rehearserOf(people(kim(null), null), never)).toEqual({ trainee: null, keepsSound: true });
    expect(await rehearserOf(people(kim(true)), never)).toEqual({ trainee: ID, keepsSound: true });
    expect(await rehearserOf(people(kim(false)), never)).toEqual({ trainee: ID, keepsSound: false });
    expect(await rehearserOf(people(kim(null)), asked(true))).toEqual({ trainee: ID, keepsSound: true });
    expect(await rehearserOf(people(kim(true, CONSENT_TEXT + 1)), asked(false))).toMatchObject({
      keepsSound: false,
    });
    expect(await rehearserOf(people(kim(null)), asked(null))).toBeNull();
  });

  it('is asked again where rehearsals would now go to a school’s archive, and only once', async () => {
    const school = 'School of the Hill';
    const sending = { ...people(kim(true)), school };
    const told: unknown[] = [];
    const ask = (trainee: Trainee, what: object): Promise<boolean> => {
      told.push([trainee.id, what]);
      return Promise.resolve(true);
    };
    expect(await rehearserOf(sending, ask)).toEqual({ trainee: ID, keepsSound: true });
    expect(told).toEqual([[ID, { keptDays: null, school }]]);
    for (const sends of [true, false]) {
      const consent = { agreed: true, text: CONSENT_TEXT, at: '2026-01-31T09:30:00Z', sends };
      const answered = { ...kim(true), consent };
      expect(await rehearserOf({ ...sending, trainees: [answered] }, never)).toMatchObject({
        keepsSound: true,
      });
    }
    expect(await rehearserOf({ ...people(kim(false)), school }, never)).toMatchObject({ keepsSound: false });
  });
});

const header: Rehearsal['header'] = {
  schema: 1,
  skill: 'hand-washing',
  variants: {},
  style: 'coach',
  engine: 'test',
  startedAt: '2026-01-31T09:30:00Z',
};

describe('who goes on with a rehearsal', () => {
  it('goes on with sound only where it was begun with it and may still be kept', () => {
    const keepsSound = (agreed: boolean, more: object): boolean =>
      goesOnAs({ ...header, ...more }, people(kim(agreed))).keepsSound;
    expect(keepsSound(false, {})).toBe(true);
    expect(keepsSound(true, { trainee: ID })).toBe(true);
    expect(keepsSound(false, { trainee: ID })).toBe(false);
    expect(keepsSound(true, { trainee: ID, withoutSound: true })).toBe(false);
    expect(keepsSound(true, { trainee: 'somebody who was deleted' })).toBe(false);
  });

  it('goes on where the sound ends, or the last event where there is none', () => {
    const rehearsal: Rehearsal = {
      header,
      events: [{ type: 'loudness', of: 'noise', from: 4, to: 9, level: -40 }],
      faults: [],
      kept: 1,
      samples: 700,
    };
    expect(lengthOf(rehearsal)).toBe(700);
    const without = { ...rehearsal, samples: 0, header: { ...header, withoutSound: true as const } };
    expect(lengthOf(without)).toBe(9 * SAMPLE_RATE);
    expect(lengthOf({ ...without, events: [{ type: 'resumed', at: 12 }, ...rehearsal.events] })).toBe(
      12 * SAMPLE_RATE,
    );
  });
});
