import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { LISTENING, type Listening } from '../../../app/settings/choice.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { makeChecklist, type Checklist } from '../../../app/skills/checklist.ts';
import { fuseCredits } from './baseline.ts';
import { humanClips, withTranscripts } from './humanSpeech.ts';
import { asScript, loadNarrations, loadNegatives, type Narration } from '../narration.ts';
import { makeNoise, mix, NOISE_KINDS, seedOf, type NoiseKind } from '../noise.ts';
import type { PlacedLine } from '../place.ts';
import { Ear, type Marked } from './recognise.ts';
import {
  expectedElsewhere,
  expectedMarks,
  linesDuring,
  percentile,
  rates,
  saysOf,
  scoreClocks,
  scoreCounts,
  scoreCredits,
  scoreNumbers,
  scoreOrder,
  scoreTimes,
  type ClockScore,
  type CountScore,
  type CreditScore,
  type Expected,
  type FalseCredit,
  type NumberScore,
  type OrderScore,
  type TimeErrors,
} from './score.ts';
import { concatenate, readSamples, writeWav } from '../sound.ts';
import { synthesize, sayingsOf, type Spoken } from '../synthesize.ts';
import { fixed, percent, ratio, table } from './table.ts';
import { CACHE, isVoice, prepare, VOICE_IDS, VOICES, type VoiceId } from '../voices.ts';
import { addErrors, compareTexts, NO_ERRORS, wordErrorRate, type WordErrors } from './wordErrors.ts';

const USAGE = `npm run bench:speech -- [options]

Speaks the narrations, hears them through the real chain, and prints how well they were marked.

  --voice ID          only these voices (may be repeated): ${VOICE_IDS.join(', ')},
                      robotic (for each narration one of the robotic voices, in turn)
  --noise KIND[@DB]   only under this noise (may be repeated): clean, ${NOISE_KINDS.map((k) => `${k}@10`).join(', ')} …
  --engine ID         what listens (may be repeated): ${LISTENING.join(', ')}; the first by default
  --split NAME        dev (for tuning) or held-out (for reporting); both by default
  --narration TEXT    only narrations whose name holds this
  --limit N           at most so many narrations
  --verbose           list every missed and false credit with what was said and what was heard
  --recognised-cache  mark the utterances kept from before, whichever version heard them: seconds instead of minutes
  --no-baseline       leave out greedy text and fuse.js alone on it, which take as long as the rest
  --marks-only        leave out unrelated speech, human recordings, memory
  --against ID        skills that unrelated sound is marked against (may be repeated); all by default, which takes hours

With neither --voice nor --noise: the neural voice clean and with a tap at 10 and 0 dB, every third narration under each
other noise, and "robotic" clean and with a tap at 10 dB. Two runs may fill the cache of utterances side by side.
`;

interface Condition {
  readonly noise: NoiseKind | null;
  /** dB; null for clean. */
  readonly snr: number | null;
}

const CLEAN: Condition = { noise: null, snr: null };
const LEVELS = [20, 10, 5, 0];
const ROBOTIC = VOICE_IDS.filter((id) => VOICES[id].kind === 'robotic');

interface Job {
  readonly engine: Listening;
  readonly narration: Narration;
  readonly voice: VoiceId;
  readonly condition: Condition;
}

interface Result extends Job {
  readonly spoken: Spoken;
  readonly marked: Marked;
  readonly words: WordErrors;
  readonly plainWords: WordErrors;
  readonly credits: CreditScore;
  readonly fuse: { readonly hits: number; readonly missed: number; readonly wrong: number };
  readonly clocks: readonly ClockScore[];
  readonly counts: readonly CountScore[];
  readonly numbers: readonly NumberScore[];
  readonly order: OrderScore;
  readonly times: TimeErrors;
  /** False credits that rest on a line which credits nothing: negated, hypothetical, planned, reported, another's. */
  readonly trapped: readonly FalseCredit[];
}

/** How people's recordings were heard. */
interface Human {
  readonly engine: Listening;
  readonly biased: WordErrors;
  readonly plain: WordErrors;
  readonly seconds: number;
}

/** Sound on which a credit is false, with what it was marked against. */
interface Unrelated {
  readonly engine: Listening;
  readonly kind: string;
  readonly seconds: number;
  readonly wrong: readonly FalseCredit[];
}

const library = await openLibrary();
if (library.faults.length > 0) throw new Error(JSON.stringify(library.faults, null, 2));
const options = readOptions();
const ears = new Map<Listening, Ear>();
for (const engine of options.engines)
  ears.set(
    engine,
    await Ear.open(library.lexicon, { trustStale: options.trustStale, baseline: options.baseline, engine }),
  );
const progress = new Map(
  options.engines.map((engine) => [engine, { done: 0, audio: 0, processing: 0, stale: 0 }]),
);

const narrations = (await loadNarrations())
  .filter((n) => options.split === undefined || n.split === options.split)
  .filter((n) => n.id.includes(options.narration))
  .slice(0, options.limit);
const jobs = planJobs(narrations);
for (const voice of new Set(jobs.map((job) => job.voice)))
  await prepare(
    sayingsOf(
      jobs.filter((job) => job.voice === voice).map((job) => job.narration),
      voice,
    ),
  );

const results: Result[] = [];
for (const job of jobs) results.push(await hear(job));
const unrelated: Unrelated[] = [];
const humans: Human[] = [];
for (const engine of options.marksOnly ? [] : options.engines) {
  unrelated.push(...(await hearUnrelated(engine)));
  humans.push(await hearHumans(engine));
}
console.error('');
if (options.verbose) results.forEach(explain);
report();
for (const engine of options.marksOnly ? [] : options.engines)
  console.log(`\nMemory, ${engine}\n${await measureMemory(engine)}`);
// The runtime's threads would keep the process waiting.
process.exit(0);

function readOptions() {
  try {
    const { values } = parseArgs({
      options: {
        voice: { type: 'string', multiple: true },
        noise: { type: 'string', multiple: true },
        engine: { type: 'string', multiple: true },
        split: { type: 'string' },
        narration: { type: 'string', default: '' },
        limit: { type: 'string', default: 'Infinity' },
        verbose: { type: 'boolean', default: false },
        'recognised-cache': { type: 'boolean', default: false },
        'marks-only': { type: 'boolean', default: false },
        'no-baseline': { type: 'boolean', default: false },
        against: { type: 'string', multiple: true },
      },
    });
    const voices = values.voice?.map((id) =>
      isVoice(id) || id === 'robotic' ? id : fail(`there is no voice "${id}"`),
    );
    const engines = (values.engine ?? [LISTENING[0]]).map(
      (id) => LISTENING.find((known) => known === id) ?? fail(`there is no engine "${id}"`),
    );
    const split = values.split;
    if (split !== undefined && split !== 'dev' && split !== 'held-out') fail(`there is no split "${split}"`);
    for (const id of values.against ?? []) if (!library.skills.has(id)) fail(`there is no skill "${id}"`);
    const limit = Number(values.limit);
    if (!(limit > 0)) fail(`--limit takes a number above 0`);
    return {
      voices,
      engines,
      conditions: values.noise?.map(readCondition),
      split,
      narration: values.narration,
      limit,
      verbose: values.verbose,
      trustStale: values['recognised-cache'],
      marksOnly: values['marks-only'],
      baseline: !values['no-baseline'],
      against: values.against,
    };
  } catch (error) {
    return fail(error instanceof Error ? error.message : String(error));
  }
}

function readCondition(text: string): Condition {
  if (text === 'clean') return CLEAN;
  const [kind, level = '10'] = text.split('@');
  const noise = NOISE_KINDS.find((k) => k === kind);
  const snr = Number(level);
  if (!noise || !Number.isFinite(snr)) return fail(`there is no noise "${text}"`);
  return { noise, snr };
}

function fail(message: string): never {
  console.error(`${message}\n\n${USAGE}`);
  process.exit(2);
}

function planJobs(chosen: readonly Narration[]): Job[] {
  return options.engines.flatMap((engine) => planFor(chosen).map((job) => ({ ...job, engine })));
}

function planFor(chosen: readonly Narration[]): Omit<Job, 'engine'>[] {
  const spokenBy = (voice: VoiceId | 'robotic', condition: Condition, every = 1): Omit<Job, 'engine'>[] =>
    chosen
      .map((narration, i) => ({
        narration,
        voice: voice === 'robotic' ? ROBOTIC[i % ROBOTIC.length]! : voice,
        condition,
      }))
      .filter((_, i) => i % every === 0);
  const { voices, conditions } = options;
  if (voices || conditions) {
    return (voices ?? ['joe']).flatMap((voice) =>
      (conditions ?? [CLEAN]).flatMap((condition) => spokenBy(voice, condition)),
    );
  }
  const tap = (snr: number): Condition => ({ noise: 'tap', snr });
  const full = [CLEAN, tap(10), tap(0)];
  // Under every noise in full the run would take a night.
  const part = NOISE_KINDS.flatMap((noise) => LEVELS.map((snr): Condition => ({ noise, snr }))).filter(
    ({ noise, snr }) => noise !== 'tap' || (snr !== 10 && snr !== 0),
  );
  return [
    ...full.flatMap((condition) => spokenBy('joe', condition)),
    ...part.flatMap((condition) => spokenBy('joe', condition, 3)),
    ...[CLEAN, tap(10)].flatMap((condition) => spokenBy('robotic', condition)),
  ];
}

function nameOf({ noise, snr }: Condition): string {
  return noise === null ? 'clean' : `${noise} ${snr} dB`;
}

function checklistOf(skill: string, variants: Readonly<Record<string, string>> = {}): Checklist {
  return makeChecklist(library.skills.get(skill)!, library.lexicon, library.rules, variants);
}

async function underNoise(speech: Float32Array, { noise, snr }: Condition, name: string, voice: VoiceId) {
  if (noise === null || snr === null) return speech;
  return mix(speech, await makeNoise(noise, speech.length, seedOf(name), voice), snr);
}

async function mark(
  engine: Listening,
  samples: Float32Array,
  checklist: Checklist,
  what: string,
): Promise<Marked> {
  const marked = await ears.get(engine)!.mark(samples, checklist);
  const done = progress.get(engine)!;
  done.done += 1;
  done.stale += marked.stale ? 1 : 0;
  if (marked.processingSeconds !== null) {
    done.audio += marked.assessment.audioSeconds;
    done.processing += marked.processingSeconds;
  }
  if (process.stderr.isTTY) process.stderr.write(`\r\u001b[K${done.done} ${what}`);
  return marked;
}

async function hear(job: Job): Promise<Result> {
  const { engine, narration, voice, condition } = job;
  const spoken = await synthesize(narration, voice);
  const samples = await underNoise(spoken.samples, condition, narration.id, voice);
  const checklist = checklistOf(narration.skill, narration.variants);
  const marked = await mark(engine, samples, checklist, `${narration.id}, ${voice}, ${nameOf(condition)}`);
  const { assessment, greedy } = marked;
  const expected = expectedMarks(checklist.steps, spoken);
  const said = spoken.lines.map((line) => line.say).join(' ');
  const credits = scoreCredits(assessment.steps, expected, spoken.lines);
  return {
    ...job,
    spoken,
    marked,
    words: compareTexts(said, assessment.utterances.map((u) => u.text).join(' ')),
    plainWords: compareTexts(said, greedy.join(' ')),
    credits,
    fuse: options.baseline
      ? scoreFuse(fuseCredits(checklist, library.lexicon, greedy), expected)
      : { hits: 0, missed: 0, wrong: 0 },
    clocks: scoreClocks(checklist.steps, spoken, assessment),
    counts: scoreCounts(spoken, assessment),
    numbers: scoreNumbers(spoken, assessment),
    order: scoreOrder(assessment.steps, narration.swapped),
    times: scoreTimes(spoken.lines, assessment.utterances),
    trapped: credits.wrong.filter((wrong) => linesDuring(spoken.lines, wrong).every(isWorthless)),
  };
}

function scoreFuse(credited: ReadonlySet<string>, expected: ReadonlyMap<string, Expected>) {
  const of = (mark: Expected): string[] => [...expected].filter(([, e]) => e === mark).map(([id]) => id);
  const hits = of('credit').filter((id) => credited.has(id)).length;
  return {
    hits,
    missed: of('credit').length - hits,
    wrong: of('none').filter((id) => credited.has(id)).length,
  };
}

function isWorthless(line: PlacedLine): boolean {
  return saysOf(line).length === 0 && !line.stops && !line.holds;
}

async function hearUnrelated(engine: Listening): Promise<Unrelated[]> {
  const heard: Unrelated[] = [];
  const against = async (
    kind: string,
    samples: Float32Array,
    checklist: Checklist,
    allowed: Map<string, Expected>,
  ) => {
    const { assessment } = await mark(engine, samples, checklist, kind);
    const { wrong } = scoreCredits(assessment.steps, allowed, []);
    if (options.verbose)
      for (const w of wrong)
        console.log(`${kind}: false credit ${checklist.skill.id}/${w.step} for "${w.text}"`);
    heard.push({ engine, kind, seconds: samples.length / SAMPLE_RATE, wrong });
  };
  const none = ({ steps }: Checklist): Map<string, Expected> =>
    new Map(steps.map(({ id }) => [id, 'none'] as const));
  const checklists = (options.against ?? [...library.skills.keys()]).map((id) => checklistOf(id));

  const clips = concatenate(
    await Promise.all(
      (await humanClips()).flatMap(({ file }) => [readSamples(file), new Float32Array(2 * SAMPLE_RATE)]),
    ),
  );
  const chat = await Promise.all(
    (await loadNegatives()).flatMap((negative) =>
      (['joe', 'flite-slt'] as const).map(async (voice) => ({
        id: negative.id,
        samples: (await synthesize(asScript(negative), voice)).samples,
        voice,
      })),
    ),
  );
  for (const checklist of checklists) {
    await against('human speech', clips, checklist, none(checklist));
    for (const { id, samples, voice } of chat) {
      await against(`chat: ${id}`, samples, checklist, none(checklist));
      const noisy = await underNoise(samples, { noise: 'tap', snr: 10 }, id, voice);
      await against(`chat: ${id}`, noisy, checklist, none(checklist));
    }
    await against('silence', new Float32Array(120 * SAMPLE_RATE), checklist, none(checklist));
    for (const noise of NOISE_KINDS) {
      const samples = (await makeNoise(noise, 120 * SAMPLE_RATE, 99, 'joe')).map((s) => 0.2 * s);
      await against(noise === 'babble' ? 'babble alone' : 'noise alone', samples, checklist, none(checklist));
    }
  }
  const skills = [...library.skills.keys()];
  for (const narration of narrations) {
    const other = skills[(skills.indexOf(narration.skill) + 1) % skills.length]!;
    const checklist = checklistOf(other);
    const own = checklistOf(narration.skill, narration.variants).steps;
    const { samples } = await synthesize(narration, 'joe');
    await against('another skill', samples, checklist, expectedElsewhere(checklist.steps, own));
  }
  return heard;
}

/** Word errors on people's recordings with transcripts, heard with a skill's phrases as in real use, and plainly. */
async function hearHumans(engine: Listening): Promise<Human> {
  const checklist = checklistOf('hand-washing');
  let [biased, plain, seconds] = [NO_ERRORS, NO_ERRORS, 0];
  for (const { id, file, transcript } of await withTranscripts()) {
    const samples = await readSamples(file);
    const { assessment, greedy } = await mark(engine, samples, checklist, id);
    biased = addErrors(biased, compareTexts(transcript!, assessment.utterances.map((u) => u.text).join(' ')));
    plain = addErrors(plain, compareTexts(transcript!, greedy.join(' ')));
    seconds += samples.length / SAMPLE_RATE;
  }
  return { engine, biased, plain, seconds };
}

function explain({
  engine,
  narration,
  voice,
  condition,
  credits,
  marked,
  spoken,
  order,
  numbers,
  clocks,
  counts,
}: Result): void {
  const { utterances, steps } = marked.assessment;
  const heardIn = (from: number, to: number): string =>
    utterances
      .filter((u) => u.start < to + 0.3 && u.end > from - 0.3)
      .map((u) => u.text)
      .join(' ') || '(nothing)';
  const notes: string[] = [];
  for (const id of credits.missed) {
    const note = steps.find((s) => s.id === id);
    const lines = spoken.lines.filter((line) => saysOf(line).includes(id));
    const detail = lines
      .map((l) => `\n      said  ${l.say}\n      heard ${heardIn(l.start, l.end)}`)
      .join('');
    notes.push(`  missed ${id} (${note?.outcome}${note?.note ? `: ${note.note}` : ''})${detail}`);
  }
  for (const wrong of credits.wrong) {
    const said = linesDuring(spoken.lines, wrong).map((line) => line.say);
    notes.push(
      `  FALSE${wrong.critical ? ' CRITICAL' : ''} ${wrong.step} for "${wrong.text}"\n      said  ${said.join(' / ')}\n      heard ${heardIn(wrong.start, wrong.end)}`,
    );
  }
  for (const id of credits.misplaced)
    notes.push(`  misplaced ${id}: "${steps.find((s) => s.id === id)?.evidence?.text}"`);
  for (const id of order.wrong) notes.push(`  order: ${id} called out of order, wrongly`);
  if (order.flagged < order.visible)
    notes.push(`  order: ${order.visible - order.flagged} of ${order.visible} swaps not seen`);
  for (const { id, truth, heard, verdict } of numbers)
    if (verdict !== 'exact')
      notes.push(`  number ${id}: ${verdict}, said ${truth}, heard ${heard ?? 'nothing'}`);
  for (const { id, truth, heard, enough, met } of clocks) {
    if (heard === null || Math.abs(heard - truth) > 0.4 || enough !== met)
      notes.push(
        `  clock ${id}: true ${truth.toFixed(2)} s, shown ${heard?.toFixed(2) ?? 'none'}, ${met ? 'met' : 'not met'}`,
      );
  }
  for (const { id, truth, heard } of counts)
    if (truth !== heard) notes.push(`  count ${id}: ${heard}, said ${truth}`);
  if (notes.length > 0)
    console.log(`${narration.id} · ${engine} · ${voice} · ${nameOf(condition)}\n${notes.join('\n')}\n`);
}

function report(): void {
  const groups = new Map<string, Result[]>();
  const add = (key: string, result: Result): void =>
    void groups.set(key, [...(groups.get(key) ?? []), result]);
  for (const result of results) add(`${result.engine}|${result.voice}|${nameOf(result.condition)}`, result);
  const kinds = new Set(results.map((r) => VOICES[r.voice].kind));
  if (kinds.has('robotic'))
    for (const r of results.filter((r) => VOICES[r.voice].kind === 'robotic'))
      add(`${r.engine}|all robotic|${nameOf(r.condition)}`, r);
  const rows = [...groups].map(
    ([key, group]) => [...key.split('|'), group] as [string, string, string, Result[]],
  );
  const sum = (group: readonly Result[], of: (r: Result) => number): number =>
    group.reduce((s, r) => s + of(r), 0);

  console.log(
    `Step credits, ${options.split ?? 'dev and held-out'} narrations; "fuse" is fuse.js alone on the greedy text\n`,
  );
  console.log(
    table(
      [
        'engine',
        'voice',
        'noise',
        'runs',
        'WER',
        'greedy',
        'prec',
        'recall',
        'F1',
        'false',
        'crit',
        'on traps',
        'fuse P',
        'fuse R',
        'fuse F1',
      ],
      rows.map(([engine, voice, noise, group]) => {
        const hits = sum(group, (r) => r.credits.hits.length);
        const missed = sum(group, (r) => r.credits.missed.length);
        const wrong = sum(group, (r) => r.credits.wrong.length);
        const { precision, recall, f1 } = rates(hits, missed, wrong);
        const fuse = rates(
          sum(group, (r) => r.fuse.hits),
          sum(group, (r) => r.fuse.missed),
          sum(group, (r) => r.fuse.wrong),
        );
        return [
          engine,
          voice,
          noise,
          String(group.length),
          percent(wordErrorRate(group.map((r) => r.words).reduce(addErrors, NO_ERRORS))),
          options.baseline
            ? percent(wordErrorRate(group.map((r) => r.plainWords).reduce(addErrors, NO_ERRORS)))
            : '–',
          ratio(precision),
          ratio(recall),
          ratio(f1),
          String(wrong),
          String(sum(group, (r) => r.credits.wrong.filter((w) => w.critical).length)),
          String(sum(group, (r) => r.trapped.length)),
          ratio(fuse.precision),
          ratio(fuse.recall),
          ratio(fuse.f1),
        ];
      }),
    ),
  );

  console.log(
    '\nClocks (error in s of those timed; passed short: shown as enough and was not), counts, order, numbers, evidence\n',
  );
  console.log(
    table(
      [
        'engine',
        'voice',
        'noise',
        'clocks',
        'timed',
        'p50',
        'p95',
        'max',
        'mean',
        'passed short',
        'failed long',
        'counts right',
        'over',
        'swaps seen',
        'wrong flags',
        'numbers',
        'exact',
        'asked',
        'missed',
        'wrong',
        'misplaced',
      ],
      rows.map(([engine, voice, noise, group]) => {
        const clocks = group.flatMap((r) => r.clocks);
        const errors = clocks.flatMap(({ heard, truth }) => (heard === null ? [] : [heard - truth]));
        const sizes = errors.map(Math.abs);
        const counts = group.flatMap((r) => r.counts);
        const numbers = group.flatMap((r) => r.numbers);
        const verdict = (v: NumberScore['verdict']): string =>
          String(numbers.filter((n) => n.verdict === v).length);
        return [
          engine,
          voice,
          noise,
          String(clocks.length),
          String(errors.length),
          fixed(percentile(sizes, 0.5)),
          fixed(percentile(sizes, 0.95)),
          fixed(percentile(sizes, 1)),
          fixed(errors.reduce((a, b) => a + b, 0) / errors.length),
          String(clocks.filter((c) => c.met && !c.enough).length),
          String(clocks.filter((c) => !c.met && c.enough).length),
          `${counts.filter((c) => c.heard === c.truth).length}/${counts.length}`,
          String(counts.filter((c) => c.heard > c.truth).length),
          `${sum(group, (r) => r.order.flagged)}/${sum(group, (r) => r.order.visible)}`,
          String(sum(group, (r) => r.order.wrong.length)),
          String(numbers.length),
          verdict('exact'),
          verdict('asked'),
          verdict('missed'),
          verdict('wrong'),
          String(sum(group, (r) => r.credits.misplaced.length)),
        ];
      }),
    ),
  );

  console.log(
    '\nTimes of the words that begin and end a line, of those heard rightly (error in s; below 0: too early)\n',
  );
  const spread = (errors: readonly number[]): string[] => [
    String(errors.length),
    ...[0.05, 0.5, 0.95].map((share) => fixed(percentile(errors, share), 3)),
  ];
  console.log(
    table(
      ['engine', 'voice', 'noise', 'starts', 'p5', 'p50', 'p95', 'ends', 'p5', 'p50', 'p95'],
      rows.map(([engine, voice, noise, group]) => [
        engine,
        voice,
        noise,
        ...spread(group.flatMap((r) => r.times.starts)),
        ...spread(group.flatMap((r) => r.times.ends)),
      ]),
    ),
  );

  if (unrelated.length > 0) {
    const kinds = [...new Set(unrelated.map((u) => `${u.engine}|${u.kind.split(':')[0]!}`))];
    console.log(
      '\nFalse credits where nothing should be credited; each sound is marked against a skill it has nothing to do with\n',
    );
    console.log(
      table(
        ['engine', 'sound', 'hours', 'critical', 'other', 'other an hour'],
        kinds.map((kind) => {
          const [engine = '', sound = ''] = kind.split('|');
          const group = unrelated.filter((u) => u.engine === engine && u.kind.startsWith(sound));
          const hours = group.reduce((s, u) => s + u.seconds, 0) / 3600;
          const wrong = group.flatMap((u) => u.wrong);
          const critical = wrong.filter((w) => w.critical).length;
          return [
            engine,
            sound,
            fixed(hours),
            String(critical),
            String(wrong.length - critical),
            fixed((wrong.length - critical) / hours, 1),
          ];
        }),
      ),
    );
  }
  for (const human of humans) {
    console.log(
      `\nPeople, ${human.engine} (LibriVox and cards of pocketsphinx-testdata, ${human.seconds.toFixed(0)} s, ${human.biased.words} words): ` +
        `WER ${percent(wordErrorRate(human.biased))}, greedy ${options.baseline ? percent(wordErrorRate(human.plain)) : '–'}`,
    );
  }
  for (const [engine, { audio, processing, stale }] of progress) {
    console.log(`\n${engine}: model load ${(ears.get(engine)!.loadMilliseconds / 1000).toFixed(1)} s`);
    console.log(
      audio > 0
        ? `Real-time factor ${(processing / audio).toFixed(3)} over ${(audio / 3600).toFixed(2)} h heard just now`
        : 'Real-time factor: not measured, every utterance came from the cache',
    );
    if (stale > 0)
      console.log(
        `${stale} recordings were marked on utterances heard by another version or with other phrases`,
      );
  }
}

/** Peak memory of the terminal program on recordings of 3 and of 30 minutes, by the kernel's own high-water mark. */
async function measureMemory(engine: Listening): Promise<string> {
  const status = (pid: number): number =>
    Number(/VmHWM:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? NaN);
  const one = (await synthesize(narrations.find((n) => n.skill === 'hand-washing') ?? narrations[0]!, 'joe'))
    .samples;
  const lines: string[] = [];
  await mkdir(CACHE, { recursive: true });
  for (const minutes of [3, 30]) {
    const file = path.join(CACHE, `memory-${minutes}.wav`);
    const wanted = minutes * 60 * SAMPLE_RATE;
    const times = Math.ceil(wanted / one.length);
    await writeWav(file, concatenate(Array.from({ length: times }, () => one)).subarray(0, wanted));
    const program = fileURLToPath(new URL('../../../app/cli/sinkside.mjs', import.meta.url));
    const child = spawn(
      process.execPath,
      [program, 'assess', file, '--skill', 'hand-washing', '--engine', engine, '--json'],
      {
        stdio: ['ignore', 'ignore', 'inherit'],
      },
    );
    let peak = 0;
    const poll = setInterval(() => {
      try {
        peak = Math.max(peak, status(child.pid!));
      } catch {
        // It has just ended; the last look counts.
      }
    }, 200);
    const began = performance.now();
    const code = await new Promise<number | null>((resolve, reject) => {
      child.on('error', reject).on('close', resolve);
    });
    clearInterval(poll);
    const seconds = (performance.now() - began) / 1000;
    lines.push(
      code === 0
        ? `assess, ${minutes} minutes: ${(peak / 1024).toFixed(0)} MB at most, ${seconds.toFixed(0)} s (${(seconds / minutes / 60).toFixed(3)} of real time, start included)`
        : `assess, ${minutes} minutes: ended with ${code}`,
    );
  }
  return lines.join('\n');
}
