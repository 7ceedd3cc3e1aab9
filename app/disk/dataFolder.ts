import { homedir } from 'node:os';
import path from 'node:path';

/**
 * Where rehearsals and settings are kept: SINKSIDE_DATA, else the place this system gives programs for a user's data.
 * On Windows that is the one that does not travel with the user's profile, for the sound is large; elsewhere Apple's
 * and the XDG Base Directory conventions hold.
 */
export function dataFolder(
  env: NodeJS.ProcessEnv = process.env,
  platform: NodeJS.Platform = process.platform,
  home: string = homedir(),
): string {
  const set = env['SINKSIDE_DATA'];
  if (set) return path.resolve(set);
  switch (platform) {
    case 'win32':
      return path.join(env['LOCALAPPDATA'] || path.join(home, 'AppData', 'Local'), 'Sinkside');
    case 'darwin':
      return path.join(home, 'Library', 'Application Support', 'Sinkside');
    default: {
      const xdg = env['XDG_DATA_HOME'];
      // A relative path is to be ignored, by the convention.
      return path.join(xdg && path.isAbsolute(xdg) ? xdg : path.join(home, '.local', 'share'), 'sinkside');
    }
  }
}
