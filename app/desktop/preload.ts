import { contextBridge, ipcRenderer } from 'electron';
import type { DesktopBridge } from '../host/api.ts';
import { CLOSING, FLUSHED, SAVE_PDF } from './channels.ts';

/** What the page is given: a way to say what must be done before the window closes, and one to save a report as PDF. */

let flush: () => Promise<void> = () => Promise.resolve();

const bridge: DesktopBridge = {
  onClosing: (wanted) => {
    flush = wanted;
  },
  savePdf: (asked) => ipcRenderer.invoke(SAVE_PDF, asked),
};
contextBridge.exposeInMainWorld('sinkside', bridge);

ipcRenderer.on(CLOSING, () => {
  const flushed = (): void => ipcRenderer.send(FLUSHED);
  // A flush that fails must not keep the window open: what it could not send is no longer to be had.
  flush().then(flushed, flushed);
});
