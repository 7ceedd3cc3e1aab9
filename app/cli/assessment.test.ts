import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { toDocument } from '../listening/assess.ts';
import { AssessmentSchema } from '../rehearsal/assessment.ts';
import { narrate, shipped } from '../../tests/rehearsal/narrate.ts';

describe('the assessment document', () => {
  it('has a published JSON Schema that says the same as the code', async () => {
    const schema = z.toJSONSchema(AssessmentSchema, { target: 'draft-2020-12' });
    // After a change of the document: npx vitest run app/cli/assessment.test.ts -u
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
