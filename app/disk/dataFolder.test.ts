import { describe, expect, it } from 'vitest';
import { dataFolder } from './dataFolder.ts';

describe('the data folder', () => {
  it.each([
    ['linux', {}, '/home/kim/.local/share/sinkside'],
    ['linux', { XDG_DATA_HOME: '/data' }, '/data/sinkside'],
    ['linux', { XDG_DATA_HOME: 'data' }, '/home/kim/.local/share/sinkside'],
    ['linux', { SINKSIDE_DATA: '/elsewhere', XDG_DATA_HOME: '/data' }, '/elsewhere'],
    ['darwin', {}, '/home/kim/Library/Application Support/Sinkside'],
    ['win32', { LOCALAPPDATA: '/local' }, '/local/Sinkside'],
    ['win32', {}, '/home/kim/AppData/Local/Sinkside'],
  ] as const)('on %s with %j is %s', (platform, env, folder) => {
    expect(dataFolder(env, platform, '/home/kim')).toBe(folder);
  });
});
