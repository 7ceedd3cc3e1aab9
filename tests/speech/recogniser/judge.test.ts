import { readFile } from 'node:fs/promises';
import { beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import { packagedFiles, readJudge } from '../../../app/engines/packaged.ts';
import { heardClearly } from '../../../app/language/utterance.ts';
import { piecesOf } from '../../../app/language/words.ts';
import { Judge, stretchesOf } from '../../../app/meaning/judge.ts';

/** Written by models/recipe/judge/reference.py. */
const ReferenceSchema = z.object({
  tokens: z.array(z.tuple([z.string(), z.array(z.number())])),
  pairs: z.array(z.tuple([z.string(), z.string(), z.string(), z.number()])),
});

let judge: Judge;
let reference: z.infer<typeof ReferenceSchema>;
beforeAll(async () => {
  judge = await Judge.open(await readJudge(packagedFiles()));
  const text = await readFile(new URL('judgeReference.json', import.meta.url), 'utf8');
  reference = ReferenceSchema.parse(JSON.parse(text));
});

describe('the judge', () => {
  // Source: the reference tokenizer of the base model, Python's `tokenizers` 0.23.
  it('cuts lines into the pieces that the base model’s own tokenizer cuts them into', () => {
    expect(reference.tokens.length).toBeGreaterThan(1000);
    expect(reference.tokens.filter(([text, ids]) => judge.pieces(text).join() !== ids.join())).toEqual([]);
  });

  // Source: onnxruntime's native build, which the recipe has held against torch (CARD.md). Sums of int8 products are exact; what is left is
  // the order of float sums, by which a number between two steps of int8 may fall to either side: one pair in 180 moved by 0.11 so.
  it('is as sure as the same network in another runtime', async () => {
    const gaps = [];
    for (const [before, line, step, sure] of reference.pairs)
      gaps.push(Math.abs((await judge.sureThat(line, step, before)) - sure));
    expect(gaps.length).toBeGreaterThan(100);
    expect(gaps.filter((gap) => gap > 0.01).length).toBeLessThanOrEqual(gaps.length / 100);
    expect(Math.max(...gaps)).toBeLessThan(0.2);
  });

  it('reads what the skill’s author did not write down, and no denial of it', async () => {
    await judge.expect([
      { id: 'lather', text: 'Work up a lather away from the running water' },
      { id: 'between', text: 'Rub between the fingers' },
    ]);
    const said = await judge.judge(
      heardClearly(0, 'Giving the bubbles a good while in the gaps of my fingers.', 0),
      '',
    );
    expect(said.judged).toHaveLength(1);
    expect(said.judged![0]).toMatchObject({ from: 0, to: 12 });
    expect(said.judged![0]!.sure['between']).toBeGreaterThan(0.8);
    const denied = await judge.judge(heardClearly(0, 'I never got between my fingers.', 0), '');
    expect(denied.judged![0]!.sure['between'] ?? 0).toBeLessThan(0.1);
  });

  it('leaves an utterance as it is where no steps are expected', async () => {
    await judge.expect([]);
    const said = heardClearly(0, 'I wet my hands.', 0);
    expect(await judge.judge(said, '')).toBe(said);
  });

  it('refuses files that are not its own, with a message', async () => {
    const files = await readJudge(packagedFiles());
    await expect(Judge.open({ ...files, network: new Uint8Array(100) })).rejects.toThrow();
    await expect(Judge.open({ ...files, tokenizer: new TextEncoder().encode('{') })).rejects.toThrow();
  });
});

describe('stretches of talk', () => {
  it('are short sentences together, long ones alone, and nothing without content', () => {
    expect(stretchesOf(piecesOf('Okay.'))).toEqual([]);
    expect(stretchesOf(piecesOf('Brakes. There, on.'))).toEqual([{ from: 0, to: 3 }]);
    const long = Array.from({ length: 20 }, (_, i) => `word${i}`).join(' ');
    expect(stretchesOf(piecesOf(`${long}. ${long}.`))).toEqual([
      { from: 0, to: 20 },
      { from: 20, to: 40 },
    ]);
  });
});
