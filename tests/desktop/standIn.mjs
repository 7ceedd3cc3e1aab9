/* global fetch */
// Stands in for Electron, so that the built shell runs under Node: `node --import THIS main.js`. Its window asks the host
// what a page would, prints the answers as one line of JSON, and closes.
import { EventEmitter } from 'node:events';
import { register } from 'node:module';

const hooks = `export async function resolve(name, context, next) {
  return name === 'electron' ? { url: 'standin:electron', shortCircuit: true } : next(name, context);
}
export async function load(url, context, next) {
  const source = 'export const { app, BrowserWindow, dialog, ipcMain, session } = globalThis.standIn;';
  return url === 'standin:electron' ? { format: 'module', source, shortCircuit: true } : next(url, context);
}`;
register(`data:text/javascript,${encodeURIComponent(hooks)}`);

const event = () => {
  const made = { prevented: false, preventDefault: () => (made.prevented = true) };
  return made;
};

const app = Object.assign(new EventEmitter(), {
  isPackaged: true,
  requestSingleInstanceLock: () => true,
  enableSandbox: () => undefined,
  whenReady: async () => undefined,
  quit: () => {
    const quitting = event();
    app.emit('will-quit', quitting);
    if (!quitting.prevented) process.exit(0);
  },
  exit: (code) => process.exit(code),
});

class BrowserWindow extends EventEmitter {
  webContents = Object.assign(new EventEmitter(), {
    setWindowOpenHandler: () => undefined,
    isCrashed: () => false,
    send: () => ipcMain.emit('flushed', { sender: this.webContents, senderFrame: { url: this.url } }),
  });
  constructor(options) {
    super();
    this.preload = options.webPreferences.preload;
    app.emit('web-contents-created', {}, this.webContents);
  }
  async loadURL(url) {
    this.url = url;
    const asked = {};
    for (const where of [
      '',
      'api/library',
      'api/models',
      'models/detector/silero_vad_v5.onnx',
      'models/kaldi/vosk.js',
      'api/rehearsals/20260131T093000Z-hand-washing/sound',
    ])
      asked[where] = (await fetch(url + where)).status;
    const { skills } = await (await fetch(`${url}api/library`)).json();
    const [model] = await (await fetch(`${url}api/models`)).json();
    console.log(
      JSON.stringify({ asked, skills: skills.length, preload: this.preload, model: model.message }),
    );
    this.close();
  }
  close() {
    const closing = event();
    this.emit('close', closing);
    if (!closing.prevented) app.emit('window-all-closed');
  }
}

const ipcMain = Object.assign(new EventEmitter(), { handle: () => undefined });
const session = {
  defaultSession: {
    setPermissionRequestHandler: () => undefined,
    setPermissionCheckHandler: () => undefined,
    setDevicePermissionHandler: () => undefined,
    webRequest: { onBeforeRequest: () => undefined },
  },
};
const dialog = { showErrorBox: (title, message) => console.error(title, message) };
globalThis.standIn = { app, BrowserWindow, dialog, ipcMain, session };
