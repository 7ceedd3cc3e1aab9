import { mkdir, rename } from 'node:fs/promises';
import path from 'node:path';
import { DEFAULT_SETTINGS, SettingsSchema, type Settings } from './settings.ts';
import { replaceFile, textIfThere } from '../disk/wholeFile.ts';

const NAME = 'settings.json';

/**
 * The settings in the data folder; the defaults where there are none. A damaged file is put aside as
 * settings.damaged.json and the defaults are given, since a rehearsal must not fail for them; `warn` hears of it.
 * Rejects as node:fs does when a file that is there cannot be read.
 */
export async function readSettings(data: string, warn: (message: string) => void): Promise<Settings> {
  const file = path.join(data, NAME);
  const text = await textIfThere(file);
  if (text === null) return DEFAULT_SETTINGS;
  const settings = SettingsSchema.safeParse(jsonOrNull(text));
  if (settings.success) return settings.data;
  const aside = path.join(data, 'settings.damaged.json');
  await rename(file, aside);
  warn(`${file} was damaged: it is now ${aside}, and the settings are as the program comes.`);
  return DEFAULT_SETTINGS;
}

/** Writes the settings, whole or not at all. Rejects as node:fs does. */
export async function writeSettings(data: string, settings: Settings): Promise<void> {
  await mkdir(data, { recursive: true });
  await replaceFile(path.join(data, NAME), `${JSON.stringify(settings, null, 2)}\n`);
}

function jsonOrNull(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
