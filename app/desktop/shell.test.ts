import { EventEmitter } from 'node:events';
import { beforeEach, describe, expect, it, vi } from 'vitest';
import type { Host } from '../host/server.ts';
import { CLOSING, FLUSHED, SAVE_PDF } from './channels.ts';
import { openShell, type ElectronParts } from './shell.ts';

/**
 * Electron's own binary cannot be had where these tests run, so a stand-in records what the shell asks of it. That the
 * calls and options exist as written is checked by the compiler against Electron's types.
 */

const URL_OF_ROOM = 'http://127.0.0.1:4517/';

class FakeContents extends EventEmitter {
  openHandler: (details: { url: string }) => { action: string } = () => ({ action: 'allow' });
  crashed = false;
  readonly sent: string[] = [];
  setWindowOpenHandler(handler: FakeContents['openHandler']): void {
    this.openHandler = handler;
  }
  send(channel: string): void {
    this.sent.push(channel);
  }
  isCrashed(): boolean {
    return this.crashed;
  }
  readonly printToPDF = vi.fn<(options: object) => Promise<Buffer>>(async () => Buffer.from('%PDF-'));
}

/** The status that the host answers with. */
let answered = 200;

class FakeWindow extends EventEmitter {
  readonly webContents = new FakeContents();
  readonly loadURL = vi.fn<(url: string, options?: object) => Promise<void>>(async (url) => {
    this.webContents.emit('did-navigate', {}, url, answered);
  });
  readonly destroy = vi.fn();
  readonly show = vi.fn();
  readonly focus = vi.fn();
  readonly restore = vi.fn();
  isMinimized = (): boolean => true;
  closed = false;
  constructor(readonly options: { webPreferences: Record<string, unknown>; show: boolean }) {
    super();
  }
  close(): void {
    if (!prevented(this, 'close')) this.closed = true;
  }
}

/** Sends an event that can be prevented, and tells whether it was. */
function prevented(emitter: EventEmitter, name: string, more: object = {}): boolean {
  const event = { preventDefault: vi.fn(), ...more };
  emitter.emit(name, event);
  return event.preventDefault.mock.calls.length > 0;
}

function fakeElectron() {
  const windows: FakeWindow[] = [];
  const app = Object.assign(new EventEmitter(), {
    isPackaged: true,
    requestSingleInstanceLock: vi.fn(() => true),
    enableSandbox: vi.fn(),
    whenReady: vi.fn(async () => undefined),
    quit: vi.fn(),
    exit: vi.fn(),
    getLocaleCountryCode: vi.fn(() => 'US'),
  });
  const handlers = {
    setPermissionRequestHandler: vi.fn(),
    setPermissionCheckHandler: vi.fn(),
    setDevicePermissionHandler: vi.fn(),
    webRequest: { onBeforeRequest: vi.fn() },
  };
  const BrowserWindow = vi.fn(function (options: FakeWindow['options']) {
    const window = new FakeWindow(options);
    windows.push(window);
    app.emit('web-contents-created', {}, window.webContents);
    return window;
  });
  const asked = new Map<string, (event: object, message: unknown) => Promise<unknown>>();
  const ipcMain = Object.assign(new EventEmitter(), { handle: asked.set.bind(asked) });
  const dialog = {
    showErrorBox: vi.fn(),
    showSaveDialog: vi.fn<
      (window: object, options: object) => Promise<{ canceled: boolean; filePath: string }>
    >(async () => ({ canceled: false, filePath: '/tmp/x.pdf' })),
  };
  const electron = { app, BrowserWindow, dialog, ipcMain, session: { defaultSession: handlers } };
  return { electron: electron as unknown as ElectronParts, app, handlers, windows, ipcMain, dialog, asked };
}

let fake: ReturnType<typeof fakeElectron>;
const writeFile = vi.fn<(file: string, bytes: Uint8Array) => Promise<void>>(async () => undefined);
const close = vi.fn(async () => undefined);
const host: Host = { url: URL_OF_ROOM, port: 4517, close };
const open = (startHost = async () => host): Promise<void> =>
  openShell(fake.electron, { startHost, preload: '/preload.cjs', writeFile, flushWithin: 30 });

beforeEach(() => {
  fake = fakeElectron();
  close.mockClear();
  writeFile.mockClear();
  answered = 200;
});

describe('the window', () => {
  it('is locked down and shows the host’s page once it is drawn', async () => {
    await open();
    const [window] = fake.windows;
    expect(fake.app.enableSandbox).toHaveBeenCalledBefore(fake.app.whenReady);
    expect(window!.options.webPreferences).toMatchObject({
      contextIsolation: true,
      sandbox: true,
      nodeIntegration: false,
      nodeIntegrationInWorker: false,
      nodeIntegrationInSubFrames: false,
      webSecurity: true,
      allowRunningInsecureContent: false,
      webviewTag: false,
      devTools: false,
      spellcheck: false,
      preload: '/preload.cjs',
    });
    expect(window!.loadURL).toHaveBeenCalledExactlyOnceWith(URL_OF_ROOM);
    expect([window!.options.show, window!.show.mock.calls.length]).toEqual([false, 0]);
    window!.emit('ready-to-show');
    expect(window!.show).toHaveBeenCalledOnce();
  });

  it('goes nowhere else, opens nothing and embeds nothing', async () => {
    await open();
    const contents = fake.windows[0]!.webContents;
    for (const name of ['will-navigate', 'will-frame-navigate', 'will-redirect']) {
      for (const url of [
        'https://elsewhere.example/',
        'file:///etc/passwd',
        'http://127.0.0.1:4518/',
        'http://localhost:4517/',
        'javascript:alert(1)',
        'no url',
      ])
        expect(prevented(contents, name, { url }), `${name} ${url}`).toBe(true);
      expect(prevented(contents, name, { url: `${URL_OF_ROOM}#past` })).toBe(false);
    }
    expect(prevented(contents, 'will-attach-webview')).toBe(true);
    expect(contents.openHandler({ url: URL_OF_ROOM })).toEqual({ action: 'deny' });
  });

  it('comes to the front when the program is started again', async () => {
    await open();
    fake.app.emit('second-instance');
    expect(fake.windows[0]!.restore).toHaveBeenCalledOnce();
    expect(fake.windows[0]!.focus).toHaveBeenCalledOnce();
  });
});

describe('what the page may do', () => {
  it.each([
    ['media', ['audio'], URL_OF_ROOM, true],
    ['media', ['audio', 'video'], URL_OF_ROOM, false],
    ['media', ['video'], URL_OF_ROOM, false],
    ['media', [], URL_OF_ROOM, false],
    ['media', ['audio'], 'https://elsewhere.example/', false],
    ['geolocation', undefined, URL_OF_ROOM, false],
    ['notifications', undefined, URL_OF_ROOM, false],
    ['clipboard-read', undefined, URL_OF_ROOM, false],
    ['openExternal', undefined, URL_OF_ROOM, false],
  ])('asked for %s of %j by %s: %s', async (permission, mediaTypes, requestingUrl, allowed) => {
    await open();
    const answer = vi.fn();
    const details = mediaTypes ? { requestingUrl, mediaTypes } : { requestingUrl };
    fake.handlers.setPermissionRequestHandler.mock.calls[0]![0](null, permission, answer, details);
    expect(answer).toHaveBeenCalledExactlyOnceWith(allowed);
  });

  it.each([
    ['media', 'audio', URL_OF_ROOM, true],
    ['media', 'video', URL_OF_ROOM, false],
    ['media', 'unknown', URL_OF_ROOM, false],
    ['media', 'audio', 'https://elsewhere.example', false],
    ['media', 'audio', '', false],
    ['hid', undefined, URL_OF_ROOM, false],
  ])('checked for %s of %s by "%s": %s', async (permission, mediaType, origin, allowed) => {
    await open();
    const check = fake.handlers.setPermissionCheckHandler.mock.calls[0]![0];
    expect(check(null, permission, origin, { mediaType })).toBe(allowed);
  });

  it('no device is given to it', async () => {
    await open();
    expect(fake.handlers.setDevicePermissionHandler.mock.calls[0]![0]({})).toBe(false);
  });

  it.each([
    [`${URL_OF_ROOM}assets/a.js`, false],
    ['blob:http://127.0.0.1:4517/1', false],
    ['data:text/plain,x', false],
    ['https://elsewhere.example/a.js', true],
    ['http://127.0.0.1:9/', true],
    ['file:///etc/passwd', true],
    ['ws://elsewhere.example/', true],
  ])('a request to %s is cancelled: %s', async (url, cancel) => {
    await open();
    const answer = vi.fn();
    fake.handlers.webRequest.onBeforeRequest.mock.calls[0]![0]({ url }, answer);
    expect(answer).toHaveBeenCalledExactlyOnceWith({ cancel });
  });
});

describe('closing', () => {
  const flushed = (url: string, sender: unknown = fake.windows[0]!.webContents): void =>
    void fake.ipcMain.emit(FLUSHED, { sender, senderFrame: { url } });

  it('waits until the page has sent what it holds', async () => {
    await open();
    const [window] = fake.windows;
    window!.close();
    window!.close();
    expect([window!.closed, window!.webContents.sent]).toEqual([false, [CLOSING]]);
    flushed('https://elsewhere.example/');
    flushed(URL_OF_ROOM, {});
    expect(window!.closed).toBe(false);
    flushed(URL_OF_ROOM);
    expect(window!.closed).toBe(true);
  });

  it('does not wait for ever, nor for a page that is dead', async () => {
    await open();
    fake.windows[0]!.close();
    await vi.waitFor(() => expect(fake.windows[0]!.closed).toBe(true));

    fake = fakeElectron();
    await open();
    fake.windows[0]!.webContents.crashed = true;
    fake.windows[0]!.close();
    expect(fake.windows[0]!.closed).toBe(true);
  });

  it('a word about flushing that nobody asked for closes nothing', async () => {
    await open();
    flushed(URL_OF_ROOM);
    expect(fake.windows[0]!.closed).toBe(false);
  });

  it('ends the host before the program', async () => {
    await open();
    fake.app.emit('window-all-closed');
    expect(fake.app.quit).toHaveBeenCalledOnce();
    expect(prevented(fake.app, 'will-quit')).toBe(true);
    expect(close).toHaveBeenCalledOnce();
    await vi.waitFor(() => expect(fake.app.quit).toHaveBeenCalledTimes(2));
    expect(prevented(fake.app, 'will-quit')).toBe(false);
  });
});

describe('a report saved as PDF', () => {
  const REPORT = '/api/rehearsals/20261124T081000Z-respirations/report.html';
  const ASKED = { address: REPORT, headers: { 'sinkside-instructor': 'a-b_1' }, name: 'report: Ada/M' };
  /** Asks as the window's page does, or something else. */
  const savePdf = async (message: unknown, from: object = {}): Promise<unknown> => {
    const frame = { sender: fake.windows[0]!.webContents, senderFrame: { url: URL_OF_ROOM } };
    return fake.asked.get(SAVE_PDF)!({ ...frame, ...from }, message);
  };

  it.each([
    ['US', 'Letter'],
    ['DE', 'A4'],
  ])(
    'is printed by a window that nobody sees and that runs no script, in %s on %s',
    async (country, paper) => {
      await open();
      fake.app.getLocaleCountryCode.mockReturnValue(country);
      expect(await savePdf(ASKED)).toBe(true);
      const [, window] = fake.windows;
      expect(window!.options).toMatchObject({
        show: false,
        webPreferences: { javascript: false, sandbox: true },
      });
      expect(window!.loadURL).toHaveBeenCalledExactlyOnceWith(`http://127.0.0.1:4517${REPORT}`, {
        extraHeaders: 'sinkside-instructor: a-b_1',
      });
      expect(window!.webContents.printToPDF).toHaveBeenCalledWith(
        expect.objectContaining({ pageSize: paper }),
      );
      expect(fake.dialog.showSaveDialog.mock.calls[0]![1]).toMatchObject({
        defaultPath: 'report--Ada-M.pdf',
      });
      expect(writeFile).toHaveBeenCalledExactlyOnceWith('/tmp/x.pdf', Buffer.from('%PDF-'));
      expect(window!.destroy).toHaveBeenCalledOnce();
    },
  );

  it('is written nowhere where the user says no, or the host does not give it', async () => {
    await open();
    fake.dialog.showSaveDialog.mockResolvedValueOnce({ canceled: true, filePath: '' });
    expect(await savePdf(ASKED)).toBe(false);
    expect(fake.windows).toHaveLength(1);
    answered = 404;
    await expect(savePdf(ASKED)).rejects.toThrow(/could not be had \(404\)/);
    expect(fake.windows[1]!.destroy).toHaveBeenCalledOnce();
    expect(writeFile).not.toHaveBeenCalled();
  });

  it.each([
    ['another address', { ...ASKED, address: '/api/settings' }],
    ['an address elsewhere', { ...ASKED, address: 'https://elsewhere.example/api/class/report.html' }],
    ['a way out of it', { ...ASKED, address: '/api/rehearsals/../../x/report.html' }],
    ['a second header', { ...ASKED, headers: { 'sinkside-trainee': 'x\nhost: elsewhere' } }],
    ['no name', { ...ASKED, name: '' }],
    ['nothing', undefined],
  ])('is refused for %s', async (_, message) => {
    await open();
    await expect(savePdf(message)).rejects.toThrow();
    expect(fake.windows).toHaveLength(1);
  });

  it('is for the page of this program alone', async () => {
    await open();
    await expect(savePdf(ASKED, { sender: {} })).rejects.toThrow(/Only the page/);
    await expect(savePdf(ASKED, { senderFrame: { url: 'https://elsewhere.example/' } })).rejects.toThrow();
    await expect(savePdf(ASKED, { senderFrame: null })).rejects.toThrow(/Only the page/);
    expect(fake.dialog.showSaveDialog).not.toHaveBeenCalled();
  });
});

describe('starting', () => {
  it('a second time ends at once', async () => {
    fake.app.requestSingleInstanceLock.mockReturnValue(false);
    const startHost = vi.fn(async () => host);
    await open(startHost);
    expect(fake.app.quit).toHaveBeenCalledOnce();
    expect([startHost.mock.calls.length, fake.windows.length]).toEqual([0, 0]);
  });

  it('that fails is shown and ends', async () => {
    await open(() => Promise.reject(new Error('the data folder may not be written to')));
    expect(fake.dialog.showErrorBox).toHaveBeenCalledWith(
      expect.any(String),
      'the data folder may not be written to',
    );
    expect(fake.app.exit).toHaveBeenCalledWith(1);
  });
});
