import type * as Electron from 'electron';
import { z } from 'zod';
import type { PdfAsked } from '../host/api.ts';
import { SAVE_PDF } from './channels.ts';
import { originOf } from './originOf.ts';

/** The addresses that may be printed: the host's reports. */
const REPORT = /^\/api\/(?:rehearsals\/[\w-]+|class)\/report\.html(?:\?[\w=&%.+-]*)?$/;

const PdfAskedSchema = z.strictObject({
  address: z.string().max(4000).regex(REPORT, 'is not the address of a report'),
  // A line break would begin another header.
  headers: z.record(z.string().regex(/^[a-z-]+$/), z.string().regex(/^[\w-]*$/)),
  name: z.string().min(1).max(200),
}) satisfies z.ZodType<PdfAsked>;

type Parts = Pick<typeof Electron, 'app' | 'BrowserWindow' | 'dialog' | 'ipcMain'>;

/** Lets the page of a window, and nobody else, save the host's reports as PDF, each where the user says. */
export function offerPdfs(
  electron: Parts,
  window: Electron.BrowserWindow,
  origin: string,
  writeFile: (file: string, bytes: Uint8Array) => Promise<void>,
): void {
  electron.ipcMain.handle(SAVE_PDF, async (event, asked: unknown): Promise<boolean> => {
    if (event.sender !== window.webContents || originOf(event.senderFrame?.url ?? '') !== origin)
      throw new Error('Only the page of this program may save a report.');
    const { address, headers, name } = PdfAskedSchema.parse(asked);
    const { canceled, filePath } = await electron.dialog.showSaveDialog(window, {
      defaultPath: `${name.replace(/[^\w-]/g, '-')}.pdf`,
      filters: [{ name: 'PDF', extensions: ['pdf'] }],
    });
    if (canceled || filePath === '') return false;
    await writeFile(filePath, await printed(electron, `${origin}${address}`, headers));
    return true;
  });
}

/** Where Letter is the usual paper; elsewhere it is A4. From memory. */
const LETTER_COUNTRIES: ReadonlySet<string> = new Set(['US', 'CA', 'MX', 'PH', 'CL', 'CO', 'VE', 'PR']);

/** A page of the host as it is printed, in a window that nobody sees and that runs no script. */
async function printed(
  { app, BrowserWindow }: Parts,
  url: string,
  headers: PdfAsked['headers'],
): Promise<Uint8Array> {
  const window = new BrowserWindow({
    show: false,
    webPreferences: { sandbox: true, contextIsolation: true, nodeIntegration: false, javascript: false },
  });
  try {
    let status = 0;
    window.webContents.once('did-navigate', (_event, _url, code) => {
      status = code;
    });
    const extraHeaders = Object.entries(headers)
      .map(([header, value]) => `${header}: ${value}`)
      .join('\n');
    await window.loadURL(url, { extraHeaders });
    if (status !== 200)
      throw new Error(`The report could not be had (${status}). Open it again and try once more.`);
    const pageSize = LETTER_COUNTRIES.has(app.getLocaleCountryCode()) ? 'Letter' : 'A4';
    return await window.webContents.printToPDF({ pageSize, printBackground: true });
  } finally {
    window.destroy();
  }
}
