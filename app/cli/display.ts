import { spawn } from 'node:child_process';

/** Whether a window could be seen. On Linux a display server says so; elsewhere only a build machine has none. */
export function hasDisplay(env: NodeJS.ProcessEnv, platform: NodeJS.Platform): boolean {
  if (env['CI']) return false;
  return platform !== 'linux' || Boolean(env['DISPLAY'] || env['WAYLAND_DISPLAY']);
}

/** Opens an address in the user's browser, as this system does it; where it cannot, nothing happens. */
export function openBrowser(url: string, platform: NodeJS.Platform = process.platform): void {
  const [program, ...args] = browserCommand(url, platform);
  const child = spawn(program, args, { stdio: 'ignore', detached: true });
  // The address is printed as well, so a system without such a program is no trouble.
  child.on('error', () => undefined);
  child.unref();
}

/** The program that opens an address, and its arguments. */
export function browserCommand(url: string, platform: NodeJS.Platform): [string, ...string[]] {
  switch (platform) {
    case 'win32':
      // The empty argument is the title that `start` takes first.
      return ['cmd', '/c', 'start', '', url];
    case 'darwin':
      return ['open', url];
    default:
      return ['xdg-open', url];
  }
}
