// All checks of the project, as `npm test` runs them after the set-up. The last line counts them:
// each test is one, and so is each check of the sources as a whole.
import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync } from 'node:fs';
import { setPriority } from 'node:os';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('..', import.meta.url));
const count = { passed: 0, failed: 0, skipped: 0 };

function run(name, program, args) {
  console.log(`\n== ${name}`);
  return spawnSync(program, args, { cwd: root, stdio: ['ignore', 'inherit', 'inherit'] }).status === 0;
}

function check(name, program, args) {
  const passed = run(name, program, args);
  count[passed ? 'passed' : 'failed']++;
  if (!passed) console.log(`== ${name}: FAILED`);
  return passed;
}

/** What waits for nothing lets the live tests go first, which hear sound in real time: all start at once. */
function inTheBackground(program, args, stdio) {
  const child = spawn(program, args, { cwd: root, stdio });
  if (child.pid !== undefined) setPriority(child.pid, 10);
  return child;
}

/** Checks side by side, each one's output in one piece: together they take as long as the slowest. */
function checkTogether(checks) {
  return Promise.all(
    checks.map(
      ([name, ...args]) =>
        new Promise((done) => {
          const child = inTheBackground('npx', args, ['ignore', 'pipe', 'pipe']);
          const said = gather(child);
          child.on('error', (error) => said.push(Buffer.from(error.message)));
          child.on('close', (code) => {
            count[code === 0 ? 'passed' : 'failed']++;
            console.log(`\n== ${name}${code === 0 ? '' : ': FAILED'}\n${Buffer.concat(said)}`);
            done();
          });
        }),
    ),
  );
}

/** Runs some of vitest's projects and counts their tests. What runs in the background says its piece at the end. */
function test(projects, inBackground) {
  const report = `.cache/vitest-${projects}.json`;
  mkdirSync(new URL('../.cache', import.meta.url), { recursive: true });
  rmSync(new URL(`../${report}`, import.meta.url), { force: true });
  console.log(`\n== tests: ${projects}`);
  const args = ['vitest', 'run', `--project=${projects}`, '--reporter=default', '--reporter=json'];
  args.push(`--outputFile.json=${report}`);
  return new Promise((done) => {
    const child = inBackground
      ? inTheBackground('npx', args, ['ignore', 'pipe', 'pipe'])
      : spawn('npx', args, { cwd: root, stdio: ['ignore', 'inherit', 'inherit'] });
    const said = gather(child);
    child.on('error', (error) => said.push(Buffer.from(error.message)));
    child.on('close', (code) => {
      if (inBackground) console.log(`\n== tests: ${projects}\n${Buffer.concat(said)}`);
      countTests(report, code === 0);
      done();
    });
  });
}

/** What a process says, as it comes. */
function gather({ stdout, stderr }) {
  const said = [];
  for (const stream of [stdout, stderr]) stream?.on('data', (data) => said.push(data));
  return said;
}

function countTests(report, passed) {
  let failed = 0;
  try {
    const { testResults } = JSON.parse(readFileSync(new URL(`../${report}`, import.meta.url), 'utf8'));
    for (const { status, assertionResults } of testResults) {
      const of = (...wanted) => assertionResults.filter((test) => wanted.includes(test.status)).length;
      count.passed += of('passed');
      count.skipped += of('pending', 'skipped', 'todo', 'disabled');
      // A file that breaks before its first test has no failed test of its own.
      failed += of('failed') || (status === 'failed' ? 1 : 0);
    }
  } catch (error) {
    console.log(`no report from vitest: ${error.message}`);
  }
  // An error outside any test, or no report at all, must not go unseen.
  count.failed += failed || (passed ? 0 : 1);
}

if (check('set-up', process.execPath, ['tests/setup.mjs'])) {
  await Promise.all([
    // A page that waits for its turn behind the modules runs into its own limits: the screens come after, as much in front.
    test('live', false).then(() => test('screens', false)),
    (async () => {
      await checkTogether([
        ['types', 'tsc', '--noEmit'],
        ['lint', 'eslint', '.'],
        ['format', 'prettier', '--check', '.'],
      ]);
      await test('modules', true);
      await test('long', true);
    })(),
  ]);
}

const skipped = count.skipped > 0 ? `, ${count.skipped} skipped` : '';
console.log(`\n${count.passed} passed, ${count.failed} failed${skipped}`);
process.exitCode = count.failed > 0 ? 1 : 0;
