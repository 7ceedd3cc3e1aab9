import { rm } from 'node:fs/promises';
import { cpus } from 'node:os';
import path from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import type { Page } from 'playwright-core';
import { RehearsalsSchema } from '../../../app/host/api.ts';
import type { Host } from '../../../app/host/server.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { LISTENING, USUAL, type Listening } from '../../../app/settings/choice.ts';
import { DEFAULT_SETTINGS } from '../../../app/settings/settings.ts';
import { makeChecklist } from '../../../app/skills/checklist.ts';
import { asScript, loadNarrations, type Narration } from '../../speech/narration.ts';
import { percentile } from '../../speech/bench/score.ts';
import { concatenate, readSamples, writeWav } from '../../speech/sound.ts';
import type { PlacedLine } from '../../speech/place.ts';
import { sayingsOf, synthesize } from '../../speech/synthesize.ts';
import { fixed, percent, table } from '../../speech/bench/table.ts';
import { prepare } from '../../speech/voices.ts';
import { installProbe, type Piece, type Seen } from './liveProbe.ts';
import { browserProcesses, machineBusy } from './processes.ts';
import { buildRoom } from '../roomInBrowser.ts';

const USAGE = `npm run bench:live -- [options]

Speaks narrations of the dev half into Chromium's microphone, in real time, and prints how soon their steps are ticked on
screen, whether sound was missed, and what the browser needs. First rehearsals of one narration each, then a long one.

  --limit N     at most so many short rehearsals; 4 by default
  --minutes N   length of the long rehearsal; 5 by default, 0 for none. Memory is compared from 30 on
  --engine ID   what listens (may be repeated): ${LISTENING.join(', ')}; ${USUAL} by default
`;

/**
 * How the times are had. A tick's time is the page's clock (ms) once the changed step list is painted. A saying's end is
 * its script's, a place in the played file. The recording's clock (samples the page has received, by 16 000) joins the two:
 *
 * - file → recording: the host has kept the very samples the page received. Each line is looked for in them by the
 *   correlation of the two sounds' loudness, millisecond by millisecond. Error: 1 ms or two.
 * - page → recording: a piece of sound reaches the page some while after its last sample was captured, and the quickest of
 *   the last and next 15 s the soonest. That one's delay is taken for 0. Error: it is not quite, by the depth of the
 *   browser's buffers, some 10 to 30 ms, by which all times here are too short.
 */
const AROUND = 15;

/** Seconds after a saying within which its tick counts as its tick. */
const TICKED_WITHIN = 10;
/**
 * Seconds of silence before the first word: the browser plays from the moment it is asked for the microphone. What is said
 * in the last so many seconds of a rehearsal has no time to be ticked and is left out.
 */
const LEAD = 3;
/** Minutes of narrations that the long rehearsal plays round and round. The whole file lies in the browser's memory. */
const ROUND = 5;
/** When memory is looked at first, minutes. What is reported is the median of the last minute before. */
const SETTLED = 5;
/** Seconds between looks at the processes. */
const LOOK_EVERY = 5;

const options = readOptions();
const library = await openLibrary();
const voice = 'joe';

/** A file for the microphone and what is true of it. */
interface Track {
  readonly samples: Float32Array;
  readonly lines: readonly PlacedLine[];
}

/** One rehearsal as it was seen from the page, and the sound it received. */
interface Run {
  readonly steps: readonly { readonly id: string; readonly kind: string }[];
  readonly seen: Seen;
  readonly sound: Float32Array;
  /** The lines' places in the recording. */
  readonly lines: readonly PlacedLine[];
  /** Milliseconds by which each came later in the recording than in the file. */
  readonly late: readonly number[];
}

/** A step said, and when, in ms after the saying's end, it was ticked; null for never. */
interface Ticked {
  readonly kind: 'new' | 'again';
  readonly first: number | null;
  readonly settled: number | null;
  /** Of a settled one: when the sound that completed it was handed over, recognition began and ended. */
  readonly stages: { readonly handed: number; readonly begun: number; readonly recognised: number } | null;
}

function readOptions() {
  try {
    const { values } = parseArgs({
      options: {
        minutes: { type: 'string', default: '5' },
        limit: { type: 'string', default: '4' },
        engine: { type: 'string', multiple: true, default: [USUAL] },
      },
    });
    const [minutes, limit] = [Number(values.minutes), Number(values.limit)];
    if (!(minutes >= 0)) throw new Error('--minutes takes a number');
    if (!(limit >= 0)) throw new Error('--limit takes a number');
    const engines = values.engine.map((id): Listening => {
      const engine = LISTENING.find((known) => known === id);
      if (engine === undefined) throw new Error(`there is no engine "${id}"`);
      return engine;
    });
    return { minutes, limit, engines };
  } catch (error) {
    console.error(`${error instanceof Error ? error.message : String(error)}\n\n${USAGE}`);
    process.exit(2);
  }
}

/** The opening, then the narrations one after the other. */
async function trackOf(narrations: readonly Narration[]): Promise<Track> {
  const opening = asScript({
    id: 'opening',
    note: '',
    lines: [{ say: 'I am ready to begin.', by: 'trainee', pause: 3 }],
  });
  const pieces: Float32Array[] = [new Float32Array(LEAD * SAMPLE_RATE)];
  const lines: PlacedLine[] = [];
  let length = pieces[0]!.length;
  for (const script of [opening, ...narrations]) {
    const spoken = await synthesize(script, voice);
    lines.push(...moved(spoken.lines, length / SAMPLE_RATE));
    pieces.push(spoken.samples);
    length += spoken.samples.length;
  }
  // Whole milliseconds, so that round after round is.
  return { samples: concatenate(pieces).subarray(0, length - (length % (SAMPLE_RATE / 1000))), lines };
}

const moved = (lines: readonly PlacedLine[], by: number): PlacedLine[] =>
  lines.map((line) => ({ ...line, start: line.start + by, end: line.end + by }));

const room = await buildRoom();

/** Plays a track into a room of its own for so many seconds, and looks at it every few. */
async function rehearse(
  track: Track,
  { skill, variants }: Narration,
  seconds: number,
  engine: Listening,
  look: (page: Page, passed: number) => Promise<void> = () => Promise.resolve(),
): Promise<Run> {
  const file = path.join(room.folder, 'played.wav');
  await writeWav(file, track.samples);
  await rm(path.join(room.folder, 'data'), { recursive: true, force: true });
  const host = await room.host();
  await fetch(`${host.url}api/settings`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ ...DEFAULT_SETTINGS, skill, variants, engine }),
  });
  const browser = await room.browser(file, 'round');
  try {
    const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
    // What compiles this file gives functions their names by a helper that the page has not got.
    await page.addInitScript({ content: 'globalThis.__name = (f) => f' });
    await page.addInitScript(installProbe);
    await page.goto(`${host.url}#/rehearse/${skill}`);
    await page.getByRole('button', { name: 'Start the rehearsal' }).click();
    await page.getByText('Ready', { exact: true }).waitFor();
    const seen: Seen = { pieces: [], shown: [], recognised: [], pinpoints: [] };
    const began = performance.now();
    const passed = (): number => (performance.now() - began) / 1000;
    const gather = async (): Promise<void> => {
      const { pieces, shown, recognised, pinpoints } = await page.evaluate(() => window.takeSeen());
      seen.pieces.push(...pieces);
      seen.shown.push(...shown);
      seen.recognised.push(...recognised);
      seen.pinpoints.push(...pinpoints);
    };
    while (passed() < seconds) {
      await sleep(Math.min(LOOK_EVERY, Math.max(0, seconds - passed())) * 1000);
      await gather();
      await look(page, passed());
    }
    await page.keyboard.press('Escape');
    // A machine that has fallen behind first works off what it has heard.
    await page.getByRole('heading', { level: 1, name: /how it went/ }).waitFor({ timeout: 600_000 });
    await gather();
    const sound = await keptSound(host);
    const rounds = Math.ceil((sound.length + 1) / track.samples.length);
    const played = Array.from({ length: rounds }, (_, round) =>
      moved(track.lines, (round * track.samples.length) / SAMPLE_RATE),
    ).flat();
    const checklist = makeChecklist(library.skills.get(skill)!, library.lexicon, library.rules, variants);
    return {
      steps: checklist.steps.map(({ id, evidence }) => ({ id, kind: evidence.kind })),
      seen,
      sound,
      ...place(played, track.samples, sound),
    };
  } finally {
    await browser.close();
    await host.close();
  }
}

async function keptSound(host: Host): Promise<Float32Array> {
  const [rehearsal] = RehearsalsSchema.parse(await (await fetch(`${host.url}api/rehearsals`)).json());
  return readSamples(path.join(room.folder, 'data', 'rehearsals', rehearsal!.id, 'sound.wav'));
}

/** Finds the lines of a file that was played, perhaps round and round, in the sound that was received. */
function place(
  lines: readonly PlacedLine[],
  file: Float32Array,
  sound: Float32Array,
): Pick<Run, 'lines' | 'late'> {
  const [played, received] = [loudness(file), loudness(sound)];
  const placed: PlacedLine[] = [];
  const lates: number[] = [];
  let late = 0;
  // Milliseconds by which the first line may lie elsewhere than in the file, and every other than the one before.
  let within = LEAD * 1000;
  for (const line of lines) {
    const [start, end] = [Math.round(line.start * 1000), Math.round(line.end * 1000)];
    if (end + late + within > received.length) break;
    const shape = played.subarray(start % played.length, (start % played.length) + end - start);
    let best = -Infinity;
    const around = late;
    for (let offset = around - within; offset <= around + within; offset++) {
      if (start + offset < 0) continue;
      const alike = correlation(shape, received.subarray(start + offset, end + offset));
      if (alike > best) [best, late] = [alike, offset];
    }
    if (best < 0.9) console.error(`"${line.say}" is not found as it was said (${best.toFixed(2)})`);
    placed.push(...moved([line], late / 1000));
    lates.push(late);
    within = 300;
  }
  return { lines: placed, late: lates };
}

/** Sum of magnitudes of each millisecond. */
function loudness(samples: Float32Array): Float32Array {
  const each = SAMPLE_RATE / 1000;
  return Float32Array.from({ length: Math.floor(samples.length / each) }, (_, i) =>
    samples.subarray(i * each, (i + 1) * each).reduce((sum, x) => sum + Math.abs(x), 0),
  );
}

function correlation(a: Float32Array, b: Float32Array): number {
  const mean = (x: Float32Array): number => x.reduce((sum, v) => sum + v, 0) / x.length;
  const [ma, mb] = [mean(a), mean(b)];
  let [ab, aa, bb] = [0, 0, 0];
  for (let i = 0; i < a.length; i++) {
    ab += (a[i]! - ma) * (b[i]! - mb);
    aa += (a[i]! - ma) ** 2;
    bb += (b[i]! - mb) ** 2;
  }
  return ab / Math.sqrt(aa * bb);
}

/** Milliseconds of the recording's clock at a moment of the page's. See {@link AROUND}. */
function recordingAt(pieces: readonly Piece[], at: number): number {
  const near = pieces.filter((piece) => Math.abs(piece.at - at) <= AROUND * 1000);
  return at - Math.min(...near.map((piece) => piece.at - millisecondsOf(piece.samples)));
}

const millisecondsOf = (samples: number): number => (samples / SAMPLE_RATE) * 1000;

const SETTLED_MARKS = new Set(['heard', 'running', 'out-of-order']);

/** When each step said was ticked. Counted steps and readings are left out: they are not ticked by one saying. */
function ticksOf({ steps, seen, lines, sound }: Run): Ticked[] {
  const shown = seen.shown.map((each) => ({ ...each, at: recordingAt(seen.pieces, each.at) }));
  const recognised = seen.recognised.map((each) => {
    const ahead = each.at - recordingAt(seen.pieces, each.at);
    return { recognised: each.at - ahead, handed: each.handed - ahead, begun: each.begun - ahead };
  });
  return lines.flatMap((line) => {
    if (line.end + LEAD > sound.length / SAMPLE_RATE) return [];
    const [start, end] = [line.start * 1000, line.end * 1000];
    const said = new Set([...line.credits, ...(line.starts ? [line.starts] : [])]);
    return [...said].flatMap((id): Ticked[] => {
      const step = steps.findIndex((each) => each.id === id);
      const kind = steps[step]?.kind;
      if (kind !== 'said' && !(kind === 'timed' && line.starts === id)) return [];
      const before = shown.findLast(({ at }) => at <= start);
      const after = shown.filter(({ at }) => at > start && at <= end + TICKED_WITHIN * 1000);
      const mark = before?.marks[step] ?? 'open';
      if (mark === 'tentative') return [];
      const late = (found: { readonly at: number } | undefined): number | null =>
        found ? found.at - end : null;
      const known = SETTLED_MARKS.has(mark) || mark === 'short';
      // A step said before is ticked already; saying it again brings it back to the top of what is shown large.
      const rank = (each: (typeof shown)[number] | undefined): number => {
        const at = each?.latest.indexOf(step) ?? -1;
        return at < 0 ? Infinity : at;
      };
      if (known && rank(before) === 0) return [];
      const settled = after.find((each, i) =>
        known ? rank(each) < rank(i === 0 ? before : after[i - 1]) : SETTLED_MARKS.has(each.marks[step]!),
      );
      const first = known
        ? settled
        : after.find(({ marks }) => SETTLED_MARKS.has(marks[step]!) || marks[step] === 'tentative');
      const by = settled && recognised.findLast((each) => each.recognised <= settled.at);
      return [
        {
          kind: known ? 'again' : 'new',
          first: late(first),
          settled: late(settled),
          stages: by
            ? { handed: by.handed - end, begun: by.begun - end, recognised: by.recognised - end }
            : null,
        },
      ];
    });
  });
}

/** Samples missed, by three accounts that do not rest on each other, and the longest wait for a piece. */
function missedOf({ seen: { pieces }, late }: Run) {
  const [first, last] = [pieces[0]!, pieces.at(-1)!];
  const behind = ({ at }: Piece): number => at - recordingAt(pieces, at);
  // The audio thread's clock is read some blocks after the piece was sent: the least of many readings tells.
  const ahead = (some: readonly Piece[]): number => Math.min(...some.map((p) => p.rendered - p.samples));
  const waits = pieces.slice(1).map((piece, i) => piece.at - pieces[i]!.at);
  return {
    received: last.samples,
    byClock: (behind(last) - behind(first)) * (SAMPLE_RATE / 1000),
    byThread: ahead(pieces.slice(-AROUND * 10)) - ahead(pieces.slice(0, AROUND * 10)),
    bySound: (Math.max(...late) - Math.min(...late)) * (SAMPLE_RATE / 1000),
    wait: waits.reduce((a, b) => Math.max(a, b), 0),
  };
}

/** A look at the browser during the long rehearsal. */
interface Look {
  /** Seconds of the rehearsal. */
  readonly at: number;
  /** Seconds of processor time so far. */
  readonly browser: number;
  readonly host: number;
  readonly machine: number;
  /** Bytes. */
  readonly memory: number;
  readonly heap: number;
}

/** Processor time of each browser process, those that have ended too. */
const spent = new Map<number, number>();

async function lookAt(page: Page, at: number): Promise<Look> {
  const processes = browserProcesses();
  for (const [id, { seconds }] of processes) spent.set(id, seconds);
  const { user, system } = process.cpuUsage();
  return {
    at,
    browser: sum([...spent.values()]),
    host: (user + system) / 1e6,
    machine: machineBusy(),
    memory: sum([...processes.values()].map(({ bytes }) => bytes)),
    heap: await page.evaluate(
      () => (performance as unknown as { memory: { usedJSHeapSize: number } }).memory.usedJSHeapSize,
    ),
  };
}

/** Bytes of all that JavaScript holds in page and workers, garbage left out. Chromium answers with its next collection. */
const measureHeld = (page: Page): Promise<number> =>
  page.evaluate(async () => {
    const measuring = performance as unknown as {
      measureUserAgentSpecificMemory(): Promise<{ bytes: number }>;
    };
    return (await measuring.measureUserAgentSpecificMemory()).bytes;
  });

const sum = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0);
const spread = (values: readonly number[], digits = 0): string[] => [
  ...[0.5, 0.95, 1].map((share) => fixed(percentile(values, share), digits)),
  String(values.length),
];
const given = <T>(values: readonly (T | null)[]): T[] => values.filter((value) => value !== null);

function reportTicks(title: string, runs: readonly Run[]): void {
  const ticks = runs.flatMap(ticksOf);
  const [fresh, again] = [
    ticks.filter(({ kind }) => kind === 'new'),
    ticks.filter(({ kind }) => kind === 'again'),
  ];
  const row = (name: string, some: readonly Ticked[], which: 'first' | 'settled'): string[] => {
    const found = given(some.map((tick) => tick[which]));
    return [name, ...spread(found), String(some.length - found.length)];
  };
  console.log(`\n${title}: from the end of a saying to its tick on screen, ms`);
  console.log(
    table(
      ['', 'p50', 'p95', 'worst', 'ticks', `not in ${TICKED_WITHIN} s`],
      [
        row('first tick', fresh, 'first'),
        row('settled tick', fresh, 'settled'),
        ...(again.length > 0 ? [row('settled, said before', again, 'settled')] : []),
      ],
    ),
  );
  const staged = ticks.flatMap(({ stages, settled }) =>
    stages && settled !== null ? [{ ...stages, settled }] : [],
  );
  console.log('\nwhere the settled ones spend it, ms');
  console.log(
    table(
      ['', 'p50', 'p95', 'worst', 'ticks'],
      [
        ['silence that ends the saying, and the piece it lies in', ...spread(staged.map((s) => s.handed))],
        [
          'waiting for what is under way: a partial result, or the whole, heard ahead',
          ...spread(staged.map((s) => s.begun - s.handed)),
        ],
        ['recognising the whole', ...spread(staged.map((s) => s.recognised - s.begun))],
        ['pinpointing, marking, painting', ...spread(staged.map((s) => s.settled - s.recognised))],
        [
          'of that, where a clock hangs on it: pinpointing',
          ...spread(runs.flatMap(({ seen }) => seen.pinpoints)),
        ],
      ],
    ),
  );
}

function reportMissed(runs: readonly Run[]): void {
  // The audio thread works in blocks of 128: up to one of them is no loss, only the moment its clock was read.
  console.log('\nsamples missed');
  console.log(
    table(
      [
        '',
        'received',
        'by the clock',
        'by the audio thread',
        'by the sound',
        'longest wait for 100 ms of it',
      ],
      runs.map((run, i) => {
        const { received, byClock, byThread, bySound, wait } = missedOf(run);
        return [
          `rehearsal ${i + 1}`,
          String(received),
          fixed(byClock, 0),
          String(byThread),
          fixed(bySound, 0),
          `${fixed(wait, 0)} ms`,
        ];
      }),
    ),
  );
}

const minutesOf = (look: Look): number => look.at / 60;
const megabytes = (bytes: number): string => `${fixed(bytes / 2 ** 20, 1)} MB`;

/** Median of the minute before. */
function lastMinute(looks: readonly Look[], minute: number, what: 'memory' | 'heap'): number {
  const some = looks.filter((look) => minutesOf(look) > minute - 1 && minutesOf(look) <= minute + 0.1);
  return percentile(
    some.map((look) => look[what]),
    0.5,
  );
}

function reportNeeds(
  looks: readonly Look[],
  held: readonly { readonly minute: number; readonly bytes: number }[],
): void {
  const [first, last] = [looks[0]!, looks.at(-1)!];
  const cores = (what: 'browser' | 'host' | 'machine'): number =>
    (last[what] - first[what]) / (last.at - first.at);
  console.log(`\nprocessor, cores of ${cpus().length}, over ${fixed((last.at - first.at) / 60, 1)} minutes`);
  console.log(
    table(
      ['', 'cores'],
      [
        ['browser, all its processes', fixed(cores('browser'))],
        ['this program with the host', fixed(cores('host'))],
        ['everything else on the machine', fixed(cores('machine') - cores('browser') - cores('host'))],
      ],
    ),
  );
  console.log('\nmemory');
  const marks = held.map(({ minute }) => minute);
  const row = (name: string, values: readonly number[]): string[] => [
    name,
    ...values.map(megabytes),
    ...(values.length > 1 ? [percent(values.at(-1)! / values[0]! - 1)] : []),
  ];
  console.log(
    table(
      ['', ...marks.map((minute) => `after ${minute} min`), ...(marks.length > 1 ? ['change'] : [])],
      [
        row(
          'browser, all its processes (PSS)',
          marks.map((minute) => lastMinute(looks, minute, 'memory')),
        ),
        row(
          "the page's JavaScript heap, with garbage",
          marks.map((minute) => lastMinute(looks, minute, 'heap')),
        ),
        row(
          'JavaScript of page and workers, without',
          held.map(({ bytes }) => bytes),
        ),
      ],
    ),
  );
}

const narrations = (await loadNarrations()).filter((n) => n.split === 'dev' && n.skill === 'hand-washing');
await prepare(sayingsOf(narrations, voice));

const [lead] = narrations;
let round = await trackOf([lead!]);
const variant = JSON.stringify(lead!.variants);
const alike = narrations.filter((n) => JSON.stringify(n.variants) === variant);
for (
  let n = 2;
  n <= alike.length && round.samples.length < Math.min(ROUND, options.minutes) * 60 * SAMPLE_RATE;
  n++
)
  round = await trackOf(alike.slice(0, n));

for (const engine of options.engines) {
  await rehearseShortly(engine);
  if (options.minutes > 0) await rehearseLong(engine);
}
await room.remove();

async function rehearseShortly(engine: Listening): Promise<void> {
  const runs: Run[] = [];
  for (const narration of narrations.slice(0, options.limit)) {
    const track = await trackOf([narration]);
    console.error(`${engine}, ${narration.id}`);
    runs.push(await rehearse(track, narration, track.samples.length / SAMPLE_RATE + LEAD, engine));
  }
  if (runs.length === 0) return;
  reportTicks(`${engine}, ${runs.length} rehearsals`, runs);
  reportMissed(runs);
}

async function rehearseLong(engine: Listening): Promise<void> {
  const looks: Look[] = [];
  const held: { minute: number; bytes: number }[] = [];
  const marks = options.minutes > SETTLED ? [SETTLED, options.minutes] : [options.minutes];
  const long = await rehearse(
    round,
    lead!,
    options.minutes * 60 + 2 * LOOK_EVERY,
    engine,
    async (page, passed) => {
      const look = await lookAt(page, passed);
      looks.push(look);
      const mark = marks[held.length];
      if (mark !== undefined && minutesOf(look) >= mark)
        held.push({ minute: mark, bytes: await measureHeld(page) });
    },
  );
  reportTicks(`${engine}, one rehearsal of ${options.minutes} minutes`, [long]);
  reportMissed([long]);
  reportNeeds(looks, held);
}
