import type { ChildProcess } from 'node:child_process';
import { readdirSync, readFileSync, rmSync } from 'node:fs';
import path from 'node:path';
import type { Page } from 'playwright-core';
import { buildScreens } from '../../app/cli/build.ts';
import { browserProcesses, secondsOf } from '../browser/bench/processes.ts';
import { openBrowser } from '../browser/roomInBrowser.ts';
import { kill, startRoom } from '../faults/room.ts';
import { middle, type Figures } from './figures.ts';

const MEGABYTE = 1 << 20;
/** Each is done so often; the middle one and the slowest are told. */
const TIMES = 7;
const REFRESHES = 50;

interface Opened {
  readonly page: Page;
  readonly host: ChildProcess;
}

/**
 * Does something in the page and waits until what it leads to stands there, drawn: ms from the one to the other. As text: tsx would
 * change it.
 */
const UNTIL_DRAWN = `
  window.untilDrawn = (act, isThere) => new Promise((done) => {
    const before = performance.now();
    const look = () =>
      isThere() ? requestAnimationFrame(() => setTimeout(() => done(performance.now() - before))) : requestAnimationFrame(look);
    act();
    look();
  });
  window.choose = (label, value) => {
    const field = [...document.querySelectorAll('label')].find((each) => each.querySelector('span')?.textContent === label);
    const input = field.querySelector('select, input');
    Object.getOwnPropertyDescriptor(Object.getPrototypeOf(input), 'value').set.call(input, value);
    input.dispatchEvent(new Event('change', { bubbles: true }));
    input.dispatchEvent(new Event('input', { bubbles: true }));
  };
  window.says = (pattern) => [...document.querySelectorAll('[role=status]')].some((each) => pattern.test(each.textContent));
`;

/** What a page costs on a data folder with no index at all, which is made anew meanwhile. */
export async function measureOpening(folder: string, figures: Figures): Promise<void> {
  const root = path.join(folder, 'rehearsals');
  for (const name of readdirSync(root)) if (name.startsWith('index-')) rmSync(path.join(root, name));
  await withPage(folder, async ({ page, host }, url) => {
    const began = performance.now();
    await page.goto(url);
    await page.getByRole('heading', { name: 'What do you rehearse?' }).waitFor();
    figures.add('page opened with no index, until one can rehearse', performance.now() - began, 'ms');
    await page.getByText(/Reading what is kept: \d+ of \d+/).waitFor();
    await page.locator('.still-reading').waitFor({ state: 'detached' });
    figures.add('  until all is read, told on the way', (performance.now() - began) / 1000, 's', 60);
    figures.add('  processor of the host', secondsOf(host.pid ?? 0), 's');
  });
}

/** What its lists, searches and the class view cost, and memory over many reloads. */
export async function measurePages(folder: string, figures: Figures): Promise<void> {
  await withPage(folder, async (opened, url) => {
    await opened.page.goto(url);
    await opened.page.getByRole('heading', { name: 'What do you rehearse?' }).waitFor();
    await measureSearches(opened, figures);
    await measureClass(opened, figures);
    await measureMemory(opened, figures);
  });
}

async function withPage(folder: string, work: (opened: Opened, url: string) => Promise<void>): Promise<void> {
  await buildScreens({ err: (text) => process.stderr.write(text) });
  const { child, url } = await startRoom(folder);
  const browser = await openBrowser('/dev/null', 'once');
  try {
    const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
    page.setDefaultTimeout(600_000);
    await page.addInitScript(UNTIL_DRAWN);
    // Nobody speaks here: the models need not be loaded.
    await page.route('**/models/**', (route) => route.abort());
    await work({ page, host: child }, url);
  } finally {
    await browser.close();
    await kill(child);
  }
}

/** Does each of some things so often, one after the other, and tells how long they took. `act` and `isThere` are text for the page. */
async function measure(
  { page, host }: Opened,
  figures: Figures,
  what: string,
  steps: readonly { readonly act: string; readonly isThere: string }[],
): Promise<void> {
  const took: number[] = [];
  const before = processorSeconds(host);
  for (let n = 0; n < TIMES; n++)
    for (const { act, isThere } of steps)
      took.push(await page.evaluate<number>(`window.untilDrawn(() => ${act}, () => ${isThere})`));
  figures.add(`${what}, middle`, middle(took), 'ms', 300);
  figures.add('  slowest', Math.max(...took), 'ms');
  // What it would take where nothing else runs, and browser and host wait for each other.
  figures.add(
    '  processor of browser and host, each',
    (1000 * (processorSeconds(host) - before)) / took.length,
    'ms',
  );
}

/** Seconds of processor that the browser and the host have taken so far. */
const processorSeconds = ({ pid = 0 }: ChildProcess): number =>
  [...browserProcesses().values()].reduce((sum, { seconds }) => sum + seconds, secondsOf(pid));

const go = (address: string): string => `(location.hash = '${address}')`;

async function measureSearches(opened: Opened, figures: Figures): Promise<void> {
  const { page } = opened;
  const home = { act: go('/'), isThere: `document.querySelector('.all-skills')` };
  const list = { act: go('/instructor'), isThere: `window.says(/^\\d{3,} of \\d+ rehearsals/)` };
  await measure(opened, figures, 'home, and the instructor’s list', [list, home]);
  await page.evaluate(go('/instructor'));
  const chosen = (label: string, value: string): { act: string; isThere: string } => ({
    act: `window.choose('${label}', '${value}')`,
    // What it says changes with each of these.
    isThere: `(() => { const now = document.querySelector('.entries').previousElementSibling.textContent; if (now === window.last) return false; window.last = now; return true; })()`,
  });
  await page.getByText(/^\d+ of \d+ rehearsals/).waitFor();
  await page.evaluate(`window.last = document.querySelector('.entries').previousElementSibling.textContent`);
  await measure(opened, figures, 'searched by skill, class and day', [
    chosen('Skill', 'hand-washing'),
    chosen('Class', 'Class 3'),
    chosen('From', '2026-01-05'),
    chosen('Skill', 'bedpan'),
    chosen('From', ''),
    chosen('Class', ''),
    chosen('Skill', ''),
  ]);
}

async function measureClass(opened: Opened, figures: Figures): Promise<void> {
  const { page } = opened;
  const isOf = (pattern: string): string =>
    `window.says(${pattern}) && document.querySelector('.heat tbody tr')`;
  await measure(opened, figures, 'class view of one class opened', [
    { act: go('/progress/hand-washing/class=Class+3'), isThere: isOf('/^\\d+ of \\d+ attempts/') },
    { act: go('/progress'), isThere: `document.querySelector('.charts')` },
  ]);
  await page.evaluate(go('/progress/hand-washing/class=Class+3'));
  await page.locator('.heat tbody tr').first().waitFor();
  const columns = (name: string): string =>
    `document.querySelector('.filters select:nth-of-type(1)') && [...document.querySelectorAll('.filters select')].at(1).value === '${name}' && document.querySelector('.heat')`;
  await measure(opened, figures, 'class view, another class chosen', [
    { act: `window.choose('Class', 'Class 4')`, isThere: columns('Class 4') },
    { act: `window.choose('Class', 'Class 5')`, isThere: columns('Class 5') },
  ]);
  await measure(opened, figures, 'class view, every class (all trainees)', [
    { act: `window.choose('Class', '')`, isThere: columns('') },
    { act: `window.choose('Class', 'Class 5')`, isThere: columns('Class 5') },
  ]);
}

async function measureMemory({ page, host }: Opened, figures: Figures): Promise<void> {
  const sizes: { host: number; page: number }[] = [];
  for (let n = 0; n < REFRESHES; n++) {
    await page.evaluate(go(n % 2 === 0 ? '/instructor' : '/progress'));
    await page.reload();
    await page.getByRole('heading', { level: 1 }).waitFor();
    await page.locator('.entries li').first().waitFor();
    const pages = [...browserProcesses().values()].reduce((sum, { bytes }) => sum + bytes, 0);
    sizes.push({ host: rssOf(host), page: pages / MEGABYTE });
  }
  // What is collected is collected now and then: the least of ten against the least of the last ten.
  const least = (of: 'host' | 'page', from: number): number =>
    Math.min(...sizes.slice(from, from + 10).map((size) => size[of]));
  figures.add(
    `host’s memory grown over ${REFRESHES} reloads`,
    least('host', REFRESHES - 10) - least('host', 10),
    'MB',
    20,
  );
  figures.add('  memory', sizes.at(-1)?.host ?? NaN, 'MB');
  figures.add('browser’s memory grown', least('page', REFRESHES - 10) - least('page', 10), 'MB', 40);
}

const rssOf = ({ pid }: ChildProcess): number =>
  Number(/^VmRSS:\s+(\d+)/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024;
