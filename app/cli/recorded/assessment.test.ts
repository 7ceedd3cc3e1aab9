import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { assess, toDocument } from '../../listening/assess.ts';
import type { Listener } from '../../listening/listener.ts';
import { SAMPLE_RATE } from '../../sound/sampleRate.ts';
import { comfortableFrom } from '../../loudness/expectation.ts';
import { RECALL_TABLES } from '../../loudness/recallTable.ts';
import { AssessmentSchema } from '../../marking/assessment.ts';
import { heardClearly } from '../../language/utterance.ts';
import { narrate, shipped } from '../../../tests/rehearsal/making/narrate.ts';
import { describeAssessment } from './report.ts';

describe('the assessment document', () => {
  it('has a published JSON Schema that says the same as the code', async () => {
    const schema = z.toJSONSchema(AssessmentSchema, { target: 'draft-2020-12' });
    // After a change of the document: npx vitest run app/cli/recorded/assessment.test.ts -u
    await expect(`${JSON.stringify(schema, null, 2)}\n`).toMatchFileSnapshot('assessment.schema.json');
  });

  it('is valid for an independent validator, whatever was heard', () => {
    const validate = new Ajv2020().compile(z.toJSONSchema(AssessmentSchema, { target: 'draft-2020-12' }));
    const about = {
      engine: 'moonshine/test',
      audioSeconds: 12,
      processingSeconds: 1,
      warnings: [],
      loudness: [],
    };
    for (const lines of [
      [],
      ['Getting some soap.'],
      ['Starting now.', 61, 'Done, one full minute, 16 breaths.'],
    ]) {
      const checklist = shipped(lines.length > 2 ? 'respirations' : 'hand-washing');
      const document = toDocument(checklist, narrate(checklist, lines).state, about);
      expect(validate(JSON.parse(JSON.stringify(document))), JSON.stringify(validate.errors)).toBe(true);
      expect(validate({ ...document, passed: true })).toBe(false);
    }
  });
});

describe('the assessment of a recording', () => {
  /** Seconds at which two steps are said, with nothing heard in between. */
  const [SOAP, BIN, END] = [10, 40, 50];
  const said = [
    heardClearly(0, 'Getting some soap.', SOAP, SOAP + 2),
    heardClearly(1, 'I throw the towel in the bin.', BIN, BIN + 2),
  ];

  /** A voice 30 dB under full scale beside a noise that is so many dB softer than it. */
  async function* soundOf(snr: number): AsyncGenerator<Float32Array> {
    for (let second = 0; second < END; second++) {
      const speaks = said.some(({ start, end }) => start <= second && second < end);
      const power = 10 ** ((-30 - snr) / 10) + (speaks ? 10 ** -3 : 0);
      yield Float32Array.from({ length: SAMPLE_RATE }, (_, i) => (i % 2 === 0 ? 1 : -1) * Math.sqrt(power));
    }
    await Promise.resolve();
  }

  async function heardBeside(snr: number) {
    const left = [...said];
    const { assessment } = await assess(soundOf(snr), {
      checklist: shipped('hand-washing'),
      engine: RECALL_TABLES[0]!.listening,
      vocabulary: () => [],
      clock: () => 0,
      // All comes with the first piece of sound, as from a listener that heard it before.
      makeListener: (onEvent): Listener => ({
        start: () => Promise.resolve(),
        expect: () => Promise.resolve(),
        feed: () => {
          for (const utterance of left.splice(0)) onEvent({ type: 'utterance', utterance });
          return Promise.resolve();
        },
        pinpoint: (utterance) => Promise.resolve(utterance),
        stop: () => Promise.resolve(),
      }),
    });
    return assessment;
  }

  it('tells how loud the tap was, and which misses that may explain', async () => {
    const comfortable = comfortableFrom(RECALL_TABLES[0]!)!;
    const loud = await heardBeside(comfortable - 3);
    const soft = await heardBeside(comfortable + 3);
    expect(loud.voiceOverNoise!.distance).toBeCloseTo(comfortable - 3, 1);
    expect(loud.voiceOverNoise!.explains).toContain('lather');
    expect(describeAssessment(loud)).toMatch(/too loud: .*\nThis may be why .*:\n/);
    expect(soft.voiceOverNoise).toMatchObject({ loudSeconds: 0, explains: [] });
    expect(describeAssessment(soft)).toMatch(/That is loud enough/);
  });
});
