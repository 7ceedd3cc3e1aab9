/// <reference types="vite/client" />
import { SAMPLE_RATE } from './listener.ts';
import captureWorklet from './captureWorklet.ts?worker&url';

/** An open microphone. */
export interface Microphone {
  /** Ends the capture and gives the microphone back. */
  close(): Promise<void>;
}

/**
 * Opens the default microphone and hands on what it hears, mono at 16 kHz, in pieces of 0.1 s. The browser resamples.
 * Its own clean-up of the sound is switched off: it is made for calls, swallows the beginnings of words, and follows
 * no measure of ours.
 *
 * @throws {DOMException} there is no microphone, or the user does not allow it
 */
export async function openMicrophone(onSamples: (samples: Float32Array) => void): Promise<Microphone> {
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: false },
  });
  const context = new AudioContext({ sampleRate: SAMPLE_RATE });
  await context.audioWorklet.addModule(captureWorklet);
  const capture = new AudioWorkletNode(context, 'capture', { numberOfOutputs: 0, channelCount: 1 });
  capture.port.onmessage = ({ data }: MessageEvent<unknown>) => {
    if (data instanceof Float32Array) onSamples(data);
  };
  context.createMediaStreamSource(stream).connect(capture);
  await context.resume();
  return {
    close: async () => {
      stream.getTracks().forEach((track) => track.stop());
      await context.close();
    },
  };
}
