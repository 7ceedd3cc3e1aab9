import type { Page } from 'playwright-core';

/** Milliseconds that a tenth of a second of sound takes. */
export interface Pace {
  readonly speech: number;
  readonly silence: number;
}
const QUICK: Pace = { speech: 25, silence: 4 };
/** At real speed, but that the sound waits for a machine that is busy. */
export const REAL: Pace = { speech: 100, silence: 100 };

/**
 * A microphone that hears samples faster than they last: speech some four times, silence some thirty times as fast. The recording's
 * time is that of its samples, so that a minute is a minute there, whatever the clock on the wall says. Put between the capture and the
 * program, where the browser's own pieces of sound come in; what listens behind it is as ever, and is waited for after each line.
 *
 * @param samples −1…1 at 16 kHz
 */
export async function hearQuickly(page: Page, samples: Float32Array, pace = QUICK): Promise<void> {
  const body = Buffer.from(samples.buffer, samples.byteOffset, samples.byteLength);
  await page.route('**/quick-sound', (route) =>
    route.fulfill({ body, contentType: 'application/octet-stream' }),
  );
  await page.addInitScript(scriptFor(pace));
}

/** As text: tsx would change it. */
const scriptFor = ({ speech, silence }: Pace): string => `
  const PIECE = 1600;
  const Usual = window.AudioWorkletNode;
  window.AudioWorkletNode = class extends Usual {
    quick = { set onmessage(hear) { void feed(hear); } };
    get port() { return this.quick; }
  };
  const wait = (ms) => new Promise((done) => setTimeout(done, ms));
  // What listens tells of each utterance from its worker.
  let told = 0;
  const UsualWorker = window.Worker;
  window.Worker = class extends UsualWorker {
    constructor(...given) {
      super(...given);
      this.addEventListener('message', ({ data }) => { if (data?.event?.type === 'utterance') told += 1; });
    }
  };
  async function feed(hear) {
    const all = new Float32Array(await (await fetch('/quick-sound')).arrayBuffer());
    let before = told;
    let quiet = Infinity;
    for (let from = 0; ; from += PIECE) {
      const piece = new Float32Array(PIECE);
      piece.set(all.subarray(from, from + PIECE));
      const isSpeech = piece.some((sample) => Math.abs(sample) > 0.002);
      if (isSpeech && quiet > 0) before = told;
      quiet = isSpeech ? 0 : quiet + 1;
      hear({ data: piece });
      await wait(isSpeech ? ${speech} : ${silence});
      // A second after the words they are settled: what they lead to is waited for.
      if (quiet === 10) {
        for (let i = 0; i < 200 && told === before; i++) await wait(100);
        await wait(300);
      }
    }
  }
`;
