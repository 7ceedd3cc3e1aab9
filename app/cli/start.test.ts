import { describe, expect, it } from 'vitest';
import { browserCommand, hasDisplay } from './display.ts';
import { run, type StartEffects } from './start.ts';

async function start(
  args: string[],
  some: Partial<StartEffects>,
): Promise<{ code: number; did: string[]; err: string }> {
  const did: string[] = [];
  let err = '';
  const io = { out: () => undefined, err: (text: string) => void (err += text), isTerminal: false };
  const code = await run(args, io, {
    display: true,
    electron: async () => '/electron',
    launch: async (program) => (did.push(`launch ${program}`), 0),
    room: async () => (did.push('room'), 0),
    demo: async (given) => (did.push(`demo ${given.join(' ')}`), 0),
    ...some,
  });
  return { code, did, err };
}

describe('sinkside start', () => {
  it('opens Electron where it can be had', async () => {
    expect(await start([], {})).toEqual({ code: 0, did: ['launch /electron'], err: '' });
  });

  it('else opens the browser, and says why', async () => {
    const { did, err } = await start([], { electron: async () => null });
    expect(did).toEqual(['room']);
    expect(err).toMatch(/cannot be had/);
  });

  it('opens the browser when Electron does not run', async () => {
    const { did, err } = await start([], { launch: async () => 127 });
    expect(did).toEqual(['room']);
    expect(err).toMatch(/ended with 127/);
  });

  it('without a display marks the demo, whose exit code and options are its own, and says how to open the room', async () => {
    const { code, did, err } = await start(['--json'], { display: false });
    expect([code, did]).toEqual([0, ['demo --json']]);
    expect(err).toMatch(/npx sinkside room/);
    expect((await start([], { display: false, demo: async () => 4 })).code).toBe(4);
  });

  it('takes no options with a display', async () => {
    expect(await start(['--json'], {})).toMatchObject({ code: 2, did: [] });
  });
});

describe('a display', () => {
  it.each([
    ['linux', {}, false],
    ['linux', { DISPLAY: ':0' }, true],
    ['linux', { WAYLAND_DISPLAY: 'wayland-0' }, true],
    ['linux', { DISPLAY: ':0', CI: 'true' }, false],
    ['darwin', {}, true],
    ['win32', { CI: '1' }, false],
  ] as const)('on %s with %j: %s', (platform, env, there) => {
    expect(hasDisplay(env, platform)).toBe(there);
  });

  it('shows an address as the system does', () => {
    expect(browserCommand('http://x/', 'linux')).toEqual(['xdg-open', 'http://x/']);
    expect(browserCommand('http://x/', 'darwin')).toEqual(['open', 'http://x/']);
    expect(browserCommand('http://x/', 'win32')).toEqual(['cmd', '/c', 'start', '', 'http://x/']);
  });
});
