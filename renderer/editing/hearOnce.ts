import { openMicrophone } from '../../app/sound/microphone.ts';
import type { Settings } from '../../app/host/api.ts';
import { openEar } from '../room/ear.ts';

/** Seconds a sentence is waited for. */
const SPEAK_WITHIN = 12;

/**
 * What the recogniser makes of the next thing said; empty when nothing is, within some seconds.
 *
 * @param onListening called when it may be said
 * @throws {Error} the model cannot be used, or the microphone cannot be opened
 */
export async function hearOnce(settings: Settings, onListening: () => void): Promise<string> {
  const ear = await openEar(settings);
  await ear.listener.start({ phrases: [] });
  const heard = new Promise<string>((done) => {
    ear.onEvent = (event) => {
      if (event.type === 'utterance') done(event.utterance.text);
    };
    setTimeout(() => done(''), 1000 * SPEAK_WITHIN);
  });
  const open = await openMicrophone((samples) => void ear.listener.feed(samples), {
    device: settings.microphone,
    processing: settings.processing,
    onChange: () => undefined,
  });
  onListening();
  try {
    return await heard;
  } finally {
    ear.onEvent = () => undefined;
    void open.close();
  }
}
