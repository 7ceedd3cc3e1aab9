import { monitorEventLoopDelay } from 'node:perf_hooks';
import { openLibrary } from '../../app/library/library.ts';
import { Rehearsals } from '../../app/records/rehearsals.ts';
import { middle, timed, type Figures } from './figures.ts';

/** Lists that are asked for one after the other, as by a page that is loaded again and again. */
const REFRESHES = 50;
const MEGABYTE = 1 << 20;

/** What the index of a data folder costs in Node: made anew, opened, asked, and after one event more. */
export async function measureIndex(folder: string, figures: Figures): Promise<void> {
  const library = await openLibrary();
  const first = new Rehearsals(folder, library);
  const delay = monitorEventLoopDelay({ resolution: 1 });
  delay.enable();
  let told = 0;
  const rebuilt = await timed(() => first.rebuild(() => told++));
  delay.disable();
  figures.add('index made anew, Node', rebuilt / 1000, 's', 60);
  figures.add('  rehearsals told of on the way', told, '');
  figures.add('  longest that others were held up', delay.max / 1e6, 'ms', 250);

  const rehearsals = new Rehearsals(folder, library);
  figures.add('index opened', await timed(() => rehearsals.entries()), 'ms');
  const entries = await rehearsals.entries();
  figures.add('  rehearsals in it', entries.length, '');
  const again: number[] = [];
  const sizes: number[] = [];
  for (let n = 0; n < REFRESHES; n++) {
    again.push(await timed(() => rehearsals.glance()));
    globalThis.gc?.();
    sizes.push(process.memoryUsage().rss / MEGABYTE);
  }
  figures.add(`asked again (middle of ${REFRESHES})`, middle(again), 'ms', 300);
  figures.add(
    'memory grown over these, after the first ten',
    (sizes.at(-1) ?? 0) - (sizes[9] ?? 0),
    'MB',
    20,
  );
  figures.add('memory (RSS)', sizes.at(-1) ?? 0, 'MB');

  const newest = entries.find(({ summary }) => summary.state === 'ended')?.summary.id ?? '';
  const comment = {
    type: 'commented',
    by: 'R. Field',
    madeAt: '2026-06-30T10:00:00.000Z',
    at: 1,
    text: 'Well said.',
  } as const;
  await rehearsals.addReview(newest, [comment]);
  figures.add('asked after one event more', await timed(() => rehearsals.glance()), 'ms', 300);
  await rehearsals.close();
}
