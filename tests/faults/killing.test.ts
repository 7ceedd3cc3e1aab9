import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { expect, it } from 'vitest';
import { randomFrom } from '../../app/skills/random.ts';
import { killAgainAndAgain } from './killing.ts';

/** `npm run bench:kills` does so 200 times. */
it('a host that is killed while people rehearse and review loses nothing it said was kept, and at most a second', async () => {
  const data = mkdtempSync(path.join(tmpdir(), 'sinkside-kills-'));
  try {
    const killed = await killAgainAndAgain(data, 3, randomFrom(7));
    expect(killed.map(({ during }) => during)).toEqual(['rehearsing', 'reviewing', 'both']);
    for (const each of killed) {
      expect(each).toMatchObject({ broken: 0, unreadable: false, resumed: true });
      expect(each.lostSeconds).toBeLessThanOrEqual(1);
    }
  } finally {
    rmSync(data, { recursive: true });
  }
}, 120_000);
