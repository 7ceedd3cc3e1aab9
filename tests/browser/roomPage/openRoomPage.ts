import path from 'node:path';
import { fileURLToPath } from 'node:url';
import react from '@vitejs/plugin-react';
import { build } from 'vite';
import { startHost, type Host } from '../../../app/host/server.ts';
import { SkillFolder } from '../../../app/library/skillFolder.ts';

/** Builds the page that draws the room at any moment, without a microphone, and serves it. */
export async function serveRoomPage(folder: string): Promise<Host> {
  const renderer = path.join(folder, 'room-page');
  await build({
    root: fileURLToPath(new URL('.', import.meta.url)),
    configFile: false,
    plugins: [react()],
    logLevel: 'error',
    build: { outDir: renderer, target: 'es2022', assetsInlineLimit: 0 },
  });
  return startHost({
    data: path.join(folder, 'room-page-data'),
    skills: await SkillFolder.open(path.join(folder, 'room-page-data')),
    renderer,
    port: 0,
    warn: (message) => console.error(message),
  });
}
