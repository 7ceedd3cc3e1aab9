/// <reference types="vite/client" />
import { SAMPLE_RATE } from './sampleRate.ts';
import captureWorklet from './captureWorklet.ts?worker&url';

/** An open microphone. */
export interface Microphone {
  /** What the system calls it. */
  readonly label: string;
  /** Ends the capture and gives the microphone back. */
  close(): Promise<void>;
}

/** The browser's own clean-up of the sound. It is made for calls and swallows the beginnings of words. */
export interface Processing {
  readonly echoCancellation: boolean;
  readonly noiseSuppression: boolean;
  readonly autoGainControl: boolean;
}

/** Off: it follows no measure of ours. */
export const NO_PROCESSING: Processing = {
  echoCancellation: false,
  noiseSuppression: false,
  autoGainControl: false,
};

export interface MicrophoneOptions {
  /** The browser's id of a device; the system's default when it is left out or gone. */
  readonly device?: string | null;
  readonly processing?: Processing;
  /** `ended`: unplugged or no longer allowed. `muted`: the system gives it to somebody else, until `unmuted`. */
  readonly onChange?: (change: 'ended' | 'muted' | 'unmuted') => void;
}

/**
 * Opens a microphone and hands on what it hears, mono at 16 kHz, in pieces of 0.1 s. The browser resamples.
 *
 * @throws {DOMException} there is no microphone (`NotFoundError`), the user does not allow it (`NotAllowedError`), or
 *   another program holds it (`NotReadableError`)
 */
export async function openMicrophone(
  onSamples: (samples: Float32Array) => void,
  { device = null, processing = NO_PROCESSING, onChange = () => undefined }: MicrophoneOptions = {},
): Promise<Microphone> {
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: { channelCount: 1, ...processing, ...(device !== null && { deviceId: { ideal: device } }) },
  });
  const [track] = stream.getAudioTracks();
  let closed = false;
  const tell = (change: 'ended' | 'muted' | 'unmuted') => (): void => {
    if (!closed) onChange(change);
  };
  track?.addEventListener('ended', tell('ended'));
  track?.addEventListener('mute', tell('muted'));
  track?.addEventListener('unmute', tell('unmuted'));
  const context = new AudioContext({ sampleRate: SAMPLE_RATE });
  const close = async (): Promise<void> => {
    if (closed) return;
    closed = true;
    stream.getTracks().forEach((each) => each.stop());
    await context.close();
  };
  try {
    await context.audioWorklet.addModule(captureWorklet);
    const capture = new AudioWorkletNode(context, 'capture', { numberOfOutputs: 0, channelCount: 1 });
    capture.port.onmessage = ({ data }: MessageEvent<unknown>) => {
      if (data instanceof Float32Array && !closed) onSamples(data);
    };
    context.createMediaStreamSource(stream).connect(capture);
    await context.resume();
  } catch (error) {
    await close();
    throw error;
  }
  return { label: track?.label ?? '', close };
}

/** The microphones there are. Their names are known only once one has been allowed. */
export async function listMicrophones(): Promise<{ readonly id: string; readonly label: string }[]> {
  const devices = await navigator.mediaDevices.enumerateDevices();
  return devices
    .filter(({ kind, deviceId }) => kind === 'audioinput' && deviceId !== '')
    .map(({ deviceId, label }, i) => ({ id: deviceId, label: label || `Microphone ${i + 1}` }));
}
