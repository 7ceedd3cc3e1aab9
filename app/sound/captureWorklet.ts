/** Runs on the browser's audio thread: gathers what the microphone gives and sends it on in pieces of 0.1 s. */

/** What the audio thread's global scope holds; the DOM library's types leave it out. */
declare abstract class AudioWorkletProcessor {
  readonly port: MessagePort;
}
declare function registerProcessor(name: string, processor: new () => AudioWorkletProcessor): void;

const PIECE = 1600;

class Capture extends AudioWorkletProcessor {
  private piece = new Float32Array(PIECE);
  private filled = 0;

  /** Takes one block (128 samples) of the first channel. An input without a source has no channels. */
  process([input]: readonly (readonly Float32Array[])[]): boolean {
    for (const sample of input?.[0] ?? []) {
      this.piece[this.filled++] = sample;
      if (this.filled < PIECE) continue;
      this.port.postMessage(this.piece, [this.piece.buffer]);
      this.piece = new Float32Array(PIECE);
      this.filled = 0;
    }
    return true;
  }
}

registerProcessor('capture', Capture);
