import { parseArgs } from 'node:util';
import { openLibrary } from '../../../app/library/library.ts';
import { randomFrom } from '../noise.ts';
import { prepare, type VoiceId } from '../voices.ts';
import { formsOf, type Form } from './forms.ts';
import { HeardReadings, type Hearing } from './heard.ts';
import { judge, OUTCOMES, type Outcome } from './judge.ts';
import { getPrompts, spokenByPerson } from './prompts.ts';

/**
 * How well spoken readings are heard: every form by several voices, clean and beside a tap at 10 dB, through the real recogniser; a
 * reading is right, asked about, silently wrong, or missed. What was heard is kept: broken off, it goes on where it was.
 */

const HELP = `npm run bench:readings -- [--minutes 20] [--split dev|held-out] [--voices joe,person] [--list wrong,missed] [--stale] [--passes 1]
  --minutes   hears no more after so many minutes and scores what there is (default: all)
  --split     scores only one half
  --voices    hears and scores only these
  --list      lists each form with one of these outcomes: ${OUTCOMES.join(', ')}
  --stale     takes what earlier versions of the program heard
  --score     hears nothing, and scores what was heard by any version
  --passes    so many of the voices for each form (1 to 5; default 2)`;

const VOICES: readonly VoiceId[] = ['joe', 'flite-slt', 'espeak-us', 'flite-rms', 'espeak-gb'];
const LEVELS = [null, 10] as const;

const { values: options } = parseArgs({
  options: {
    minutes: { type: 'string', default: 'Infinity' },
    split: { type: 'string' },
    voices: { type: 'string', default: [...VOICES, 'person'].join(',') },
    list: { type: 'string', default: '' },
    stale: { type: 'boolean', default: false },
    score: { type: 'boolean', default: false },
    passes: { type: 'string', default: '2' },
    help: { type: 'boolean', default: false },
  },
});

if (options.help) console.log(HELP);
else await main();

/** Every form once, by its first voice and at one level, then at the other, then by the next voice: what is there early is spread over all. */
function allHearings(): Hearing[] {
  const forms = formsOf();
  const person = spokenByPerson().map((form): [Form, 'person'] => [form, 'person']);
  const rounds = Array.from({ length: Number(options.passes) }, (_, round) =>
    forms.map((form, i): [Form, VoiceId] => [form, VOICES[(i + round) % VOICES.length] ?? 'joe']),
  );
  const voices = new Set(options.voices.split(','));
  return rounds
    .flatMap((round, i) => (i === 0 ? [[...round, ...person]] : [round]))
    .flatMap((round) =>
      LEVELS.map((_, turn) =>
        shuffled(round).map(([form, voice], i): Hearing => ({
          form,
          voice,
          snr: LEVELS[(i + turn) % LEVELS.length] ?? null,
        })),
      ),
    )
    .flat()
    .filter(({ voice }) => voices.has(voice));
}

/** In another order, the same always. */
function shuffled<T>(list: readonly T[]): T[] {
  const random = randomFrom(list.length);
  return list
    .map((item) => ({ item, rank: random() }))
    .sort((a, b) => a.rank - b.rank)
    .map(({ item }) => item);
}

async function main(): Promise<void> {
  const began = Date.now();
  const library = await openLibrary();
  const wanted = allHearings();
  if (options.score) return report(await HeardReadings.kept(library), wanted, true);
  const heard = await HeardReadings.open(library);
  const missing = wanted.filter((each) => heard.before(each, options.stale) === null);
  await getPrompts();
  await prepare(
    missing.flatMap(({ form: { text }, voice }) => (voice === 'person' ? [] : [{ voice, text }])),
  );
  let done = 0;
  for (const each of missing) {
    if (Date.now() - began > Number(options.minutes) * 60_000) break;
    await heard.hear(each);
    done += 1;
    if (done % 50 === 0)
      console.error(`${done} of ${missing.length} heard, ${Math.round((Date.now() - began) / 1000)} s`);
  }
  report(heard, wanted, options.stale);
}

function report(heard: HeardReadings, wanted: readonly Hearing[], trustStale: boolean): void {
  const rows = new Map<string, Map<Outcome, number>>();
  const listed = new Set(options.list.split(','));
  for (const each of wanted) {
    const utterances = heard.before(each, trustStale);
    if (!utterances || (options.split && each.form.split !== options.split)) continue;
    const { outcome, found } = judge(heard.checklistOf(each.form), each.form, utterances);
    const level = each.snr === null ? 'clean' : `tap@${each.snr}`;
    for (const name of [`${each.voice} ${level}`, `all ${level}`, 'all']) {
      const row = rows.get(name) ?? new Map<Outcome, number>();
      rows.set(name, row.set(outcome, (row.get(outcome) ?? 0) + 1));
    }
    if (listed.has(outcome))
      console.log(
        `${outcome} | ${each.voice} ${level} | ${each.form.id} | ${each.form.text} | ${utterances.map(({ text }) => text).join(' / ')} | ${found}`,
      );
  }
  console.log(['', 'n', ...OUTCOMES].map((cell) => cell.padEnd(16)).join(''));
  for (const [name, row] of [...rows].sort(([a], [b]) => a.localeCompare(b))) {
    const n = [...row.values()].reduce((sum, count) => sum + count, 0);
    console.log(
      [name, n, ...OUTCOMES.map((outcome) => row.get(outcome) ?? 0)]
        .map((cell) => String(cell).padEnd(16))
        .join(''),
    );
  }
}
