import { contextBridge, ipcRenderer } from 'electron';
import type { DesktopBridge } from '../host/api.ts';
import { CLOSING, FLUSHED } from './channels.ts';

/** The one thing the page is given: a way to say what must be done before the window closes. */

let flush: () => Promise<void> = () => Promise.resolve();

const bridge: DesktopBridge = {
  onClosing: (wanted) => {
    flush = wanted;
  },
};
contextBridge.exposeInMainWorld('sinkside', bridge);

ipcRenderer.on(CLOSING, () => {
  const flushed = (): void => ipcRenderer.send(FLUSHED);
  // A flush that fails must not keep the window open: what it could not send is no longer to be had.
  flush().then(flushed, flushed);
});
