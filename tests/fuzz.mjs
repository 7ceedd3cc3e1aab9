// Runs every property test with new seeds: `npm run fuzz -- 20` twenty times. `SEED=n npx vitest run FILE` repeats one.
import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('..', import.meta.url));
const rounds = Number(process.argv[2] ?? 5);
const files = ['app', 'models', 'renderer', 'tests']
  .flatMap((folder) => readdirSync(join(root, folder), { recursive: true }).map((name) => join(folder, name)))
  .filter((file) => file.endsWith('.test.ts'))
  .filter((file) => readFileSync(join(root, file), 'utf8').includes('fc.assert'));

let failed = 0;
for (let round = 1; round <= rounds; round++) {
  const SEED = String(Math.floor(Math.random() * 2 ** 31));
  console.log(`\n== round ${round} of ${rounds}: SEED=${SEED}`);
  const { status } = spawnSync('npx', ['vitest', 'run', ...files], {
    cwd: root,
    stdio: 'inherit',
    env: { ...process.env, SEED },
  });
  if (status !== 0) failed++;
}
console.log(`\n${rounds - failed} rounds passed, ${failed} failed`);
process.exitCode = failed > 0 ? 1 : 0;
