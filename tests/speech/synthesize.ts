import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { amplify } from './level.ts';
import type { Line } from './narration.ts';
import { EDGE, place, type Script, type Truth } from './place.ts';
import { concatenate } from './sound.ts';
import { prepare, say, VOICES, type Saying, type VoiceId } from './voices.ts';

/** A script spoken, and what is true of it by construction. */
export interface Spoken extends Truth {
  /** Mono, −1…1 at 16 kHz. */
  readonly samples: Float32Array;
}

/** How much softer, in dB, a second person is: they stand further from the microphone. */
const OTHER_SOFTER = 3;

/** Everything a voice has to say for these scripts, for {@link prepare}. */
export function sayingsOf(scripts: readonly Script[], voice: VoiceId): Saying[] {
  return scripts.flatMap(({ lines }) =>
    lines.map((line) => ({ voice: voiceOf(line, voice), text: line.say })),
  );
}

/**
 * Speaks a script. The same script and voice give the same samples and the same truth, always.
 *
 * @throws {Error} a line `fills` a clock that does not run or that the talk has overrun already
 */
export async function synthesize(script: Script, voice: VoiceId): Promise<Spoken> {
  await prepare(sayingsOf([script], voice));
  const sayings: Float32Array[] = [];
  for (const line of script.lines) {
    const spoken = await say({ voice: voiceOf(line, voice), text: line.say });
    sayings.push(line.by === 'other' ? amplify(spoken, -OTHER_SOFTER) : spoken);
  }
  const { gaps, ...truth } = place(
    script,
    sayings.map((spoken) => spoken.length / SAMPLE_RATE),
  );
  const pieces = sayings.flatMap((spoken, i) => [spoken, silence(gaps[i]!)]);
  return { ...truth, samples: concatenate([silence(EDGE), ...pieces, silence(EDGE)]) };
}

function voiceOf(line: Line, voice: VoiceId): VoiceId {
  return line.by === 'other' ? VOICES[voice].other : voice;
}

function silence(seconds: number): Float32Array {
  return new Float32Array(Math.round(seconds * SAMPLE_RATE));
}
