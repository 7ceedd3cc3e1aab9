import { parse, saysOneOf, type Saying } from '../../language/commands.ts';
import { findNumbers } from '../../language/numbers.ts';
import { piecesOf, splitBehind, tokenize, type Token } from '../../language/words.ts';
import type { Measure } from '../../skills/measure.ts';
import { pumpedTo, type Ask } from './asks.ts';

/** Sayings, and what they ask for; null where the number said with them, or its lack, makes no sense of them. */
interface Known {
  readonly sayings: readonly Saying[];
  readonly ask: (number: number | null) => Ask | null;
}

const plainly = (ask: Ask, ...sayings: readonly string[]): Known => ({
  sayings: parse(sayings),
  ask: (number) => (number === null ? ask : null),
});
const withNumber = (ask: (number: number) => Ask, ...sayings: readonly string[]): Known => ({
  sayings: parse(sayings),
  ask: (number) => (number === null ? null : ask(number)),
});

const POISE = {
  large: '(i) (move|slide|set|put|push|bring) large|big|heavy|bigger|larger poise|weight|one',
  small: '(i) (move|slide|set|put|push|bring) small|little|light|smaller poise|weight|one',
} as const;
const ON = 'on|up|further|forward|right';
const BACK = 'back|down|left';
/** Marks that a poise slides with "much more". */
const FAR = 10;

/** What can be said to the instruments, by the measure. A saying must be the whole utterance, or a whole sentence beside others that are some. */
const KNOWN: Readonly<Record<Measure, readonly Known[]>> = {
  respirations: [],
  pulse: [
    plainly(
      { ask: 'fingers on' },
      'i|we have|got|found|feel pulse|it|beat',
      'i|we have got|found|felt pulse|it|beat',
      'i|we can feel pulse|it|beat',
      '(i) (put) fingers (are) on (pulse|wrist)',
    ),
    plainly(
      { ask: 'fingers off' },
      'i|we let go (wrist|arm)',
      'i|we (have) lost pulse|it|beat',
      '(i) (take) fingers (are) off (pulse|wrist)',
    ),
  ],
  pressure: [
    {
      sayings: parse([
        '(i) (am|keep) pump|inflate (it|cuff) (up)',
        '(i) (am|keep) pump up (it|cuff)',
        'pump (it|cuff) (up) more|again|higher',
        '(little|bit) higher',
        'more air',
      ]),
      ask: (number) => ({ ask: 'pump', to: pumpedTo(number) }),
    },
    plainly({ ask: 'enough' }, '(that) (high) enough', 'stop (pumping)', 'hold it (there)', 'that will do'),
    plainly(
      { ask: 'let down' },
      '(i) let it|cuff down (slowly)',
      '(i) let air|it out (slowly)',
      '(i) release|deflate air|it|cuff|valve (slowly)',
      '(i) open valve (slowly|little|bit)',
    ),
    plainly(
      { ask: 'slower' },
      '(little|bit) slower',
      'more slowly',
      'slow it down',
      'close valve little|bit',
    ),
    plainly({ ask: 'faster' }, '(little|bit) faster|quicker', 'more quickly', 'open valve more'),
    plainly({ ask: 'shut' }, '(i) close|shut valve'),
    plainly({ ask: 'all air out' }, '(i) (let) all air out', '(i) open valve all way|wide', '(i) empty cuff'),
    plainly({ ask: 'listen' }, '(i) (am) listen'),
    plainly({ ask: 'feel' }, '(i) feel (for) wrist', '(i) feel (for) pulse at wrist'),
  ],
  urine: [
    plainly(
      { ask: 'eye level' },
      '(i) (go|bend|come|get|look) (down) (at) eye level',
      '(i) bend|crouch|squat down',
    ),
    plainly({ ask: 'lower' }, '(little|bit) lower'),
    plainly({ ask: 'higher' }, '(little|bit) higher', '(i) stand|rise up'),
  ],
  weight: [
    withNumber((to) => ({ ask: 'large', to }), `${POISE.large} (at|on)`),
    withNumber((to) => ({ ask: 'small', to }), `${POISE.small} (at|on)`),
    plainly({ ask: 'large by', by: 1 }, `${POISE.large} ${ON}`),
    plainly({ ask: 'large by', by: -1 }, `${POISE.large} ${BACK}`),
    plainly({ ask: 'small by', by: FAR }, 'much|lot more', `${POISE.small} far ${ON}`),
    plainly({ ask: 'small by', by: -FAR }, 'much|lot less', `${POISE.small} far ${BACK}`),
    plainly({ ask: 'small by', by: 1 }, '(little|bit|touch) more', `${POISE.small} (little|bit) ${ON}`),
    plainly({ ask: 'small by', by: -1 }, '(little|bit|touch) less', `${POISE.small} (little|bit) ${BACK}`),
    plainly({ ask: 'set to zero' }, '(set) scale zero', 'zero scale'),
    plainly({ ask: 'step on' }, 'step up|on (scale)', 'step up on scale'),
    plainly({ ask: 'step off' }, 'step down|off (scale)'),
  ],
};

/** What a text asks of the instruments, sentence by sentence; nothing unless each of its sentences is such a saying. */
export function asksIn(measure: Measure, text: string): readonly Ask[] {
  const pieces = piecesOf(text);
  const numbers = findNumbers(pieces);
  const sentences = splitBehind(tokenize(pieces), ({ ends }) => ends === '.' || ends === '?').filter(
    ({ length }) => length > 0,
  );
  const asks = sentences.map((tokens) => {
    const said = numbers.filter(({ from }) => tokens.some(({ at }) => at === from));
    const isNumber = ({ at }: Token): boolean => said.some(({ from, to }) => at >= from && at < to);
    const [number] = said;
    // "The large one" holds a word that is a number as well.
    return (
      askOf(measure, tokens, null) ??
      (number && said.length === 1
        ? askOf(
            measure,
            tokens.filter((token) => !isNumber(token)),
            number.value,
          )
        : null)
    );
  });
  return asks.every((ask) => ask !== null) ? asks : [];
}

/** "And a half" that stands after a number. */
const HALF = ['and', 'half'] as const;

function askOf(measure: Measure, tokens: readonly Token[], number: number | null): Ask | null {
  const words = tokens.map(({ word }) => word).filter((word) => word !== 'a');
  const isHalf = number !== null && HALF.every((word, i) => words.at(i - HALF.length) === word);
  const rest = isHalf
    ? tokens.slice(
        0,
        tokens.findLastIndex(({ word }) => word === 'and'),
      )
    : tokens;
  const value = isHalf ? number + 0.5 : number;
  for (const { sayings, ask } of KNOWN[measure]) {
    const asked = saysOneOf(sayings, rest) ? ask(value) : null;
    if (asked) return asked;
  }
  return null;
}

/** Phrases that make these sayings likely, for the listener's vocabulary. */
export const BENCH_PHRASES: Readonly<Record<Measure, readonly string[]>> = {
  respirations: [],
  pulse: ['i have the pulse', 'i feel the pulse', 'i let go'],
  pressure: [
    'pump it up', 'pump the cuff up', 'high enough', 'stop pumping', 'let it down', 'let the air out', 'a little slower', 'a little faster',
    'close the valve', 'all the air out', 'feel the wrist', 'i listen', 'i am listening',
  ],
  urine: ['eye level', 'go to eye level', 'bend down', 'a little lower', 'a little higher'],
  weight: [
    'the large poise to', 'the small poise to', 'large poise on', 'large poise back', 'small poise on', 'small poise back', 'a little more',
    'a little less', 'much more', 'much less', 'set the scale to zero', 'step on the scale',
  ],
}; // prettier-ignore
