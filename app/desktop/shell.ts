import type * as Electron from 'electron';
import type { Host } from '../host/server.ts';
import { CLOSING, FLUSHED } from './channels.ts';
import { originOf } from './originOf.ts';
import { offerPdfs } from './savePdf.ts';
import { messageOf } from '../faults/faults.ts';

/** The part of Electron that the shell uses, passed in so that a test can stand in for it. */
export type ElectronParts = Pick<typeof Electron, 'app' | 'BrowserWindow' | 'dialog' | 'ipcMain' | 'session'>;

export interface ShellOptions {
  /** Starts the host in this process. */
  readonly startHost: () => Promise<Host>;
  /** File of the preload script. */
  readonly preload: string;
  /** Writes a file, whole. */
  readonly writeFile: (file: string, bytes: Uint8Array) => Promise<void>;
  /** Milliseconds that a closing window may take to send what is not yet kept. */
  readonly flushWithin?: number;
}

/** Sending a few seconds of sound and events over loopback takes milliseconds; longer than this it hangs. */
const FLUSH_WITHIN = 5000;

/**
 * Opens the rehearsal room in a window of its own: the host's page and nothing else, which may use the microphone and
 * nothing else. A second start brings the first one's window to the front. Trouble at the start is shown, and ends it.
 */
export async function openShell(electron: ElectronParts, options: ShellOptions): Promise<void> {
  const { app, dialog } = electron;
  if (!app.requestSingleInstanceLock()) {
    app.quit();
    return;
  }
  app.enableSandbox();
  app.on('window-all-closed', () => app.quit());
  try {
    await app.whenReady();
    const host = await options.startHost();
    closeWithApp(electron, host);
    const { origin } = new URL(host.url);
    confine(electron, origin);
    const window = makeWindow(electron, options.preload);
    app.on('second-instance', () => {
      if (window.isMinimized()) window.restore();
      window.focus();
    });
    offerPdfs(electron, window, origin, options.writeFile);
    flushOnClose(electron, window, origin, options.flushWithin ?? FLUSH_WITHIN);
    await window.loadURL(host.url);
  } catch (error) {
    const message = messageOf(error);
    dialog.showErrorBox('The rehearsal room cannot be opened', message);
    app.exit(1);
  }
}

/** The page is the host's and stays it: no other address is loaded, opened, embedded or asked. */
function confine({ app, session }: ElectronParts, origin: string): void {
  const isOurs = (url: string): boolean => originOf(url) === origin;

  app.on('web-contents-created', (_, contents) => {
    const keepHere = (event: { preventDefault(): void; readonly url: string }): void => {
      if (!isOurs(event.url)) event.preventDefault();
    };
    contents.on('will-navigate', keepHere);
    contents.on('will-frame-navigate', keepHere);
    contents.on('will-redirect', keepHere);
    contents.on('will-attach-webview', (event) => event.preventDefault());
    contents.setWindowOpenHandler(() => ({ action: 'deny' }));
  });

  const own = session.defaultSession;
  own.setPermissionRequestHandler((_, permission, answer, details) => {
    const types = 'mediaTypes' in details ? (details.mediaTypes ?? []) : [];
    const onlySound = types.length > 0 && types.every((type) => type === 'audio');
    answer(permission === 'media' && onlySound && isOurs(details.requestingUrl));
  });
  own.setPermissionCheckHandler(
    (_, permission, requesting, details) =>
      permission === 'media' && details.mediaType === 'audio' && isOurs(requesting),
  );
  own.setDevicePermissionHandler(() => false);
  own.webRequest.onBeforeRequest((details, answer) => {
    // What a page makes for itself has no host; everything else must be ours.
    const { protocol } = new URL(details.url);
    const made = protocol === 'blob:' || protocol === 'data:' || protocol === 'devtools:';
    answer({ cancel: !made && !isOurs(details.url) });
  });
}

function makeWindow({ app, BrowserWindow }: ElectronParts, preload: string): Electron.BrowserWindow {
  const window = new BrowserWindow({
    width: 1280,
    height: 800,
    // Below this the room cannot be read from two metres.
    minWidth: 640,
    minHeight: 480,
    show: false,
    autoHideMenuBar: true,
    webPreferences: {
      preload,
      contextIsolation: true,
      sandbox: true,
      nodeIntegration: false,
      nodeIntegrationInWorker: false,
      nodeIntegrationInSubFrames: false,
      webSecurity: true,
      allowRunningInsecureContent: false,
      webviewTag: false,
      devTools: !app.isPackaged,
      // The spelling checker gets its dictionaries from the network.
      spellcheck: false,
      // A rehearsal goes on behind another window, and its signals sound without a touch.
      backgroundThrottling: false,
      autoplayPolicy: 'no-user-gesture-required',
    },
  });
  window.once('ready-to-show', () => window.show());
  return window;
}

/** Lets the page send what is not yet kept before its window closes; one that does not answer is closed all the same. */
function flushOnClose(
  { ipcMain }: ElectronParts,
  window: Electron.BrowserWindow,
  origin: string,
  within: number,
): void {
  const { webContents } = window;
  let state: 'open' | 'flushing' | 'flushed' = 'open';
  const finish = (): void => {
    if (state !== 'flushing') return;
    state = 'flushed';
    window.close();
  };
  ipcMain.on(FLUSHED, (event) => {
    if (event.sender === webContents && originOf(event.senderFrame?.url ?? '') === origin) finish();
  });
  window.on('close', (event) => {
    if (state === 'flushed' || webContents.isCrashed()) return;
    event.preventDefault();
    if (state === 'flushing') return;
    state = 'flushing';
    setTimeout(finish, within);
    webContents.send(CLOSING);
  });
}

/** Ends the host, once what is being written is on disk, before the program ends. */
function closeWithApp({ app }: ElectronParts, host: Host): void {
  let closed = false;
  app.on('will-quit', (event) => {
    if (closed) return;
    event.preventDefault();
    void host.close().finally(() => {
      closed = true;
      app.quit();
    });
  });
}
