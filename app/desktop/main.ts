/**
 * Electron's entry. Built into dist/desktop/main.js (app/cli/build.ts), two folders below the project's root like this
 * file itself, so that paths that begin there hold in both. Nothing here awaits at the top: Electron gets ready only
 * after this module has run.
 */
import { app, BrowserWindow, dialog, ipcMain, session } from 'electron';
import { writeFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { startHost, type Host } from '../host/server.ts';
import { dataFolder } from '../disk/dataFolder.ts';
import { FolderHeld } from '../disk/folderLock.ts';
import { SkillFolder } from '../library/skillFolder.ts';
import { openShell } from './shell.ts';

const here = path.dirname(fileURLToPath(import.meta.url));

// The program's own folder cannot be written to once it is installed.
if (app.isPackaged) process.env['SINKSIDE_MODELS'] ??= path.join(dataFolder(), 'models');

void openShell(
  { app, BrowserWindow, dialog, ipcMain, session },
  {
    preload: path.join(here, 'preload.cjs'),
    writeFile,
    startHost: async () =>
      startHost({
        data: dataFolder(),
        skills: await SkillFolder.open(dataFolder()),
        renderer: path.join(here, '../renderer'),
        packaged: {
          detector: path.join(here, 'silero_vad_v5.onnx'),
          kaldi: path.join(here, 'vosk.js'),
          judge: path.join(here, 'judge.onnx'),
          judgeTokenizer: path.join(here, 'judge.tokenizer.json'),
        },
        warn: (message) => console.error(message),
      }).catch(pageOfHolder),
  },
);

/** Where a room is open already, as in a browser, the window shows its page. */
function pageOfHolder(error: unknown): Host {
  if (!(error instanceof FolderHeld) || !error.answers) throw error;
  const { url, holder } = error;
  return { url, port: holder.port, close: () => Promise.resolve() };
}
