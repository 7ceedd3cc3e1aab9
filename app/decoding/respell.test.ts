import { beforeAll, describe, expect, it } from 'vitest';
import { loadModel } from '../../models/load.ts';
import { concatenate } from '../../tests/speech/sound.ts';
import { say } from '../../tests/speech/voices.ts';
import { piecesOf } from '../language/words.ts';
import { greedy } from './beamSearch.ts';
import { respell, SkillWords } from './respell.ts';
import { SpeechModel } from './speechModel.ts';

const words = new SkillWords([
  'wetting hands',
  'lather away from water',
  'the towel goes in',
  'pedal down',
  'read the wristband',
]);

describe('words of the skill', () => {
  it('are found by their sound, the most alike first, in any ending', () => {
    expect(words.like('wedding')[0]).toBe('wetting');
    expect(words.like('dowels')[0]).toBe('towels');
    expect(words.like('wristbeen', 7)).toContain('wristband');
    expect(words.like('elephant')).toEqual([]);
  });

  it('leave alone what any sentence may have, and numbers', () => {
    for (const word of ['please', 'my', 'three', 'towel', 'toweling'])
      expect(words.isStrange(word), word).toBe(false);
    expect(words.isStrange('dowel')).toBe(true);
  });

  it('make phrases with their neighbours', () => {
    expect(words.makesPhrase('the', 'towel', 'went')).toBe(true);
    expect(words.makesPhrase('in', 'lathering', 'away')).toBe(true);
    expect(words.makesPhrase('that', 'pedal', 'is')).toBe(false);
  });
});

describe('respelling by the sound', () => {
  let model: SpeechModel;
  beforeAll(async () => {
    model = await SpeechModel.open((await loadModel('moonshine')).files);
  }, 60_000);

  const hear = async (text: string): Promise<{ heard: string; respelled: string }> => {
    const edge = new Float32Array(4000);
    const sound = await model.encode(concatenate([edge, await say({ voice: 'flite-slt', text }), edge]));
    const heard = model.tokens.decode((await greedy(model, sound)).ids);
    return { heard, respelled: (await respell(model, sound, piecesOf(heard), words)).join(' ') };
  };

  it.each([
    ['Wetting hands.', 'Wedding', 'Wetting'],
    ['Lather, away from the water.', 'Leather', 'Lather'],
    ['Pedal down, warm water coming.', 'Peddled', 'Pedal'],
    ['The towel goes into the garbage can.', 'dowel', 'towel'],
  ])('mends %s', async (text, wrong, right) => {
    const { heard, respelled } = await hear(text);
    expect(heard).toContain(wrong);
    expect(respelled).toBe(heard.replace(wrong, right));
  });

  it.each([
    'My sister had a lovely wedding in the spring.',
    'He bought a pair of leather boots.',
    'They meddle in everything we do.',
    'A vowel is a letter, and an owl is a bird.',
  ])('leaves as it was: %s', async (text) => {
    const { heard, respelled } = await hear(text);
    expect(respelled).toBe(heard);
  });
});
