import type { Spoken } from '../../app/marking/state.ts';

export interface VoiceOptions {
  /** Seconds of the recording. */
  readonly now: () => number;
  /** Told of every sentence when it begins to be said, or shown. */
  readonly onCaption: (text: string) => void;
  /**
   * Told what sounds from when to when, so that it is not credited to the trainee: when a sentence begins, with a
   * generous guess of its end, and again with the same `from` when it has ended.
   */
  readonly onSpoke: (spoken: Spoken) => void;
  /** Whether to speak at all; without, there are captions only. */
  readonly aloud: boolean;
  /** 0–1. */
  readonly volume: number;
}

/** Milliseconds after which a voice that has not begun to speak is given up, and the caption stands alone. */
const STARTS_WITHIN = 2500;

/** Characters a second of a slow voice: common ones say 13 to 16. Slower than they are, so that no guess ends too soon. */
const SLOWEST = 11;

/**
 * A voice of this machine, or null. Voices that are not local send the text to somebody else's computer and are never
 * used.
 */
export function localVoice(voices: readonly SpeechSynthesisVoice[]): SpeechSynthesisVoice | null {
  const own = voices.filter((voice) => voice.localService && /^en\b/i.test(voice.lang));
  return own.find((voice) => voice.default) ?? own[0] ?? null;
}

/** Says the coach's sentences one after the other, aloud where this machine has a voice, in captions always. */
export class Voice {
  private queue: Promise<void> = Promise.resolve();
  private closed = false;
  private waiting = 0;

  constructor(private readonly options: VoiceOptions) {}

  /** Says a text. Resolves when it has been said. */
  say(text: string): Promise<void> {
    this.waiting += 1;
    this.queue = this.queue.then(async () => {
      const voice = this.voice();
      // Sentence by sentence, so that a caption is no longer than what sounds.
      if (voice) for (const sentence of sentencesOf(text)) await this.saySentence(sentence, voice);
      else this.write(text);
      this.waiting -= 1;
    });
    return this.queue;
  }

  /** Whether something is being said or waits to be. */
  get speaking(): boolean {
    return this.waiting > 0;
  }

  /** Falls silent. */
  close(): void {
    this.closed = true;
    if (canSpeak()) speechSynthesis.cancel();
  }

  private voice(): SpeechSynthesisVoice | null {
    const { aloud, volume } = this.options;
    return aloud && volume > 0 && canSpeak() ? localVoice(speechSynthesis.getVoices()) : null;
  }

  /** Nothing sounds, so nothing can be taken for the trainee's words. */
  private write(text: string): void {
    if (this.closed) return;
    const { now, onCaption, onSpoke } = this.options;
    onCaption(text);
    // One reading for both: a clock that ticks between two would make a sound of what is only written.
    const at = now();
    onSpoke({ text, from: at, to: at });
  }

  private async saySentence(text: string, voice: SpeechSynthesisVoice): Promise<void> {
    if (this.closed) return;
    const { volume, now, onCaption, onSpoke } = this.options;
    onCaption(text);
    await new Promise<void>((done) => {
      const utterance = new SpeechSynthesisUtterance(text);
      utterance.voice = voice;
      utterance.lang = voice.lang;
      utterance.volume = volume;
      let from: number | null = null;
      let over = false;
      const finish = (): void => {
        if (over) return;
        over = true;
        clearTimeout(late);
        onSpoke({ text, from: from ?? now(), to: now() });
        done();
      };
      const giveUp = (): void => {
        speechSynthesis.cancel();
        finish();
      };
      let late = setTimeout(giveUp, STARTS_WITHIN);
      utterance.onstart = () => {
        from = now();
        const guess = 1 + text.length / SLOWEST;
        onSpoke({ text, from, to: from + guess });
        clearTimeout(late);
        late = setTimeout(giveUp, 2000 * guess);
      };
      utterance.onend = finish;
      utterance.onerror = finish;
      speechSynthesis.speak(utterance);
    });
  }
}

const canSpeak = (): boolean => typeof speechSynthesis !== 'undefined';

/** A text's sentences, in order. */
export const sentencesOf = (text: string): string[] =>
  text
    .split(/(?<=[.?!])\s+/)
    .map((sentence) => sentence.trim())
    .filter((sentence) => sentence !== '');
