import { parseArgs } from 'node:util';
import { SingleBar } from 'cli-progress';
import {
  catalog,
  DEFAULT_MODEL,
  differenceOf,
  findModel,
  isShipped,
  modelBytes,
  type Model,
} from '../../models/catalog.ts';
import {
  InstallFailed,
  installModel,
  realEffects,
  removeModel,
  type InstallEffects,
  type InstallEvent,
} from '../../models/install.ts';
import { modelsHome, verifyModel } from '../../models/verify.ts';
import type { ExitCode, Io } from './io.ts';

export const USAGE = `Usage: sinkside models list
       sinkside models get [ID]
       sinkside models verify [ID]
       sinkside models remove ID

Speech models: what there is, getting one, checking its files, taking it away.
Where no ID is given, "get" gets the default, which "list" names, and "verify" checks all.
They lie in models/installed, or in the folder that SINKSIDE_MODELS names.

Exit codes: 0 done, 2 wrong usage, 4 a model is missing, damaged, or could not be had.
`;

/** `sinkside models …` */
export async function run(
  args: string[],
  io: Io,
  effects: (report: InstallEffects['report']) => InstallEffects = realEffects,
): Promise<ExitCode> {
  const [verb, named, ...rest] = parseArgs({ args, allowPositionals: true, options: {} }).positionals;
  const id = named ?? (verb === 'get' ? DEFAULT_MODEL : undefined);
  if (verb === 'list' && id === undefined) return list(io);
  if (verb === 'verify' && id === undefined) return verify(catalog(), io);
  if (id === undefined || rest.length > 0 || !['get', 'verify', 'remove'].includes(verb ?? '')) {
    io.err(USAGE);
    return 2;
  }
  const model = findModel(id);
  if (model === undefined) {
    const ids = catalog().map((known) => known.id);
    io.err(`There is no model "${id}". There are: ${ids.join(', ')}\n`);
    return 2;
  }
  if (verb === 'get') return get(model, io, effects);
  return verb === 'verify' ? verify([model], io) : remove(model, io);
}

async function list(io: Io): Promise<ExitCode> {
  for (const model of catalog()) {
    const { state } = await verifyModel(model, modelsHome());
    const about = model.files.some(({ sha256 }) => sha256 === null) ? 'about ' : '';
    const size = `${(modelBytes(model) / 1e6).toFixed(1)} MB`;
    const usual = model.id === DEFAULT_MODEL ? ', the default' : '';
    const difference = differenceOf(model);
    io.out(
      `${model.id}  ${model.engine}, ${model.language}, ${about}${size}, ${model.licence}: ${state}${usual}\n` +
        `  ${model.note}\n` +
        (difference ? `  Made from ${difference.base}: ${difference.madeBy}.\n` : ''),
    );
  }
  return 0;
}

async function get(
  model: Model,
  io: Io,
  effects: (report: InstallEffects['report']) => InstallEffects,
): Promise<ExitCode> {
  const progress = io.isTerminal ? drawnProgress(io) : printedProgress(io);
  try {
    const recorded: string[] = [];
    const report: InstallEffects['report'] = (event) => {
      if (event.type !== 'recorded') return progress.report(event);
      recorded.push(
        `${event.file}: ${event.bytes} bytes from ${event.from}, licence ${model.licence}, SHA-256 ${event.sha256}. ` +
          `No checksum was known: this one is recorded, and checked from now on.\n`,
      );
    };
    const outcome = await installModel(model, modelsHome(), effects(report));
    progress.stop();
    io.out(outcome === 'placed' ? `${model.id} is installed.\n` : `${model.id} is already installed.\n`);
    recorded.forEach(io.out);
    return 0;
  } catch (error) {
    progress.stop();
    if (!(error instanceof InstallFailed)) throw error;
    io.err(`${error.message}\n`);
    return 4;
  }
}

async function verify(models: readonly Model[], io: Io): Promise<ExitCode> {
  let whole = 0;
  let damaged = 0;
  for (const model of models) {
    const { state, faults, isChecked } = await verifyModel(model, modelsHome());
    const checksums = isChecked ? 'checksums right' : 'no checksum known';
    io.out(`${model.id}: ${state === 'installed' ? `installed, ${checksums}` : state}\n`);
    // What comes with the program tells nothing of what was got, unless it is asked about.
    if (state === 'installed' && (models.length === 1 || !isShipped(model))) whole++;
    if (state === 'damaged') {
      damaged++;
      for (const fault of faults) io.out(`  ${fault}\n`);
      io.err(`To mend it: npx sinkside models get ${model.id}\n`);
    }
  }
  return damaged > 0 || whole === 0 ? 4 : 0;
}

async function remove(model: Model, io: Io): Promise<ExitCode> {
  if (isShipped(model)) {
    io.err(`${model.id} comes with the program and stays.\n`);
    return 2;
  }
  const was = await removeModel(model, modelsHome());
  io.out(was ? `${model.id} is removed.\n` : `${model.id} was not installed.\n`);
  return 0;
}

interface Progress {
  readonly report: (event: Exclude<InstallEvent, { type: 'recorded' }>) => void;
  readonly stop: () => void;
}

/** A bar that is drawn over itself, for a terminal. */
function drawnProgress(io: Io): Progress {
  const bar = new SingleBar({
    format: '{bar} {percentage} %  {megabytes} of {totalMegabytes} MB',
    barCompleteChar: '█',
    barIncompleteChar: '░',
    hideCursor: true,
    stopOnComplete: false,
  });
  let total = 1;
  return {
    stop: () => bar.stop(),
    report: (event) => {
      if (event.type === 'bytes') {
        // What pip keeps beside the wheel is counted too.
        const bytes = Math.min(event.bytes, total);
        bar.update(bytes, { megabytes: (bytes / 1e6).toFixed(1) });
        return;
      }
      bar.stop();
      if (event.type === 'failed') io.err(`${event.why}\n`);
      else {
        io.err(`Getting it from ${event.name}\n`);
        total = event.totalBytes;
        bar.start(total, 0, { megabytes: '0.0', totalMegabytes: (total / 1e6).toFixed(1) });
      }
    },
  };
}

/** A line at each quarter, for a log. */
function printedProgress(io: Io): Progress {
  let total = 1;
  let said = 0;
  return {
    stop: () => undefined,
    report: (event) => {
      if (event.type === 'failed') io.err(`${event.why}\n`);
      else if (event.type === 'source') {
        io.err(`Getting it from ${event.name}, ${(event.totalBytes / 1e6).toFixed(1)} MB\n`);
        total = event.totalBytes;
        said = 0;
      } else {
        const quarter = Math.min(4, Math.floor((4 * event.bytes) / total));
        if (quarter > said) io.err(`  ${quarter * 25} %\n`);
        said = Math.max(said, quarter);
      }
    },
  };
}
