import { beforeAll, expect, it } from 'vitest';
import { openLibrary } from '../../../app/library/library.ts';
import { formsOf } from '../readings/forms.ts';
import { HeardReadings, type Hearing } from '../readings/heard.ts';
import { judge, type Outcome } from '../readings/judge.ts';

/**
 * The everyday part of `npm run bench:readings`: the first form of each kind, clean by a neural voice and beside a tap by another. None
 * may be silently wrong.
 */

/** Ten sayings of two seconds; the first time, they have to be spoken as well. */
const PATIENCE = 180_000;

let heard: HeardReadings;
beforeAll(async () => {
  heard = await HeardReadings.open(await openLibrary());
}, PATIENCE);

it(
  'spoken readings are right or asked about',
  async () => {
    const kinds = new Map(formsOf().map((form) => [form.id.replace(/-\d+$/, ''), form]));
    const outcomes: Outcome[] = [];
    for (const [i, form] of [...kinds.values()].entries()) {
      const hearing: Hearing =
        i % 2 ? { form, voice: 'flite-slt', snr: 10 } : { form, voice: 'joe', snr: null };
      const utterances = heard.before(hearing, false) ?? (await heard.hear(hearing));
      outcomes.push(judge(heard.checklistOf(form), form, utterances).outcome);
    }
    expect(outcomes).not.toContain('silently wrong');
    expect(outcomes.filter((outcome) => outcome === 'missed').length).toBeLessThanOrEqual(2);
    expect(outcomes).toContain('right');
  },
  PATIENCE,
);
