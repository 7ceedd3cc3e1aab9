/**
 * `npm run bench:kills -- --kills 200 --seed 1`: kills the host again and again while people rehearse and review, and prints what was lost;
 * see killing.ts for what that means.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { parseArgs } from 'node:util';
import { randomFrom } from '../../app/skills/random.ts';
import { killAgainAndAgain, type Killed } from './killing.ts';

const { values } = parseArgs({
  options: { kills: { type: 'string', default: '200' }, seed: { type: 'string', default: '1' } },
});

const data = mkdtempSync(path.join(tmpdir(), 'sinkside-kills-'));
try {
  let done = 0;
  const all = await killAgainAndAgain(
    data,
    Number(values.kills),
    randomFrom(Number(values.seed)),
    (killed) => {
      if (++done % 10 === 0 || killed.broken > 0 || killed.unreadable || !killed.resumed)
        console.error(`${done}: ${JSON.stringify(killed)}`);
    },
  );
  console.log(
    'during      kills  lost sound: middle, most (s)  lost events: most  broken  unreadable  resumed',
  );
  for (const during of ['rehearsing', 'reviewing', 'both'] as const)
    print(
      during,
      all.filter((each) => each.during === during),
    );
  print('all', all);
} finally {
  rmSync(data, { recursive: true });
}

function print(name: string, some: readonly Killed[]): void {
  const seconds = some.map(({ lostSeconds }) => lostSeconds).sort((a, b) => a - b);
  const count = (is: (killed: Killed) => boolean): number => some.filter(is).length;
  const figures = [
    String(some.length).padStart(5),
    `${(seconds[Math.floor(seconds.length / 2)] ?? NaN).toFixed(2)}, ${(seconds.at(-1) ?? NaN).toFixed(2)}`.padStart(
      28,
    ),
    String(Math.max(...some.map(({ lostEvents }) => lostEvents))).padStart(17),
    String(count(({ broken }) => broken > 0)).padStart(6),
    String(count(({ unreadable }) => unreadable)).padStart(10),
    String(count(({ resumed }) => resumed)).padStart(7),
  ];
  console.log(`${name.padEnd(11)} ${figures.join('  ')}`);
}
