/**
 * What the live benchmark sees of a room from inside its page. The room itself knows nothing of it. All `at` are
 * milliseconds of the page's clock (`performance.now()`).
 */

/** A piece of sound that reached the page. */
export interface Piece {
  readonly at: number;
  /** Samples received up to its end. */
  readonly samples: number;
  /** Samples the audio thread had worked off by then, whether or not they reached the page. */
  readonly rendered: number;
}

/** What the step list shows from a moment on. */
export interface Shown {
  /** When it was painted. */
  readonly at: number;
  /** Mark of each step, in the order of the checklist. */
  readonly marks: readonly string[];
  /** The steps shown large, latest said first, as indexes into `marks`. */
  readonly latest: readonly number[];
}

/** An utterance as it came from the listening worker. */
export interface Recognised {
  readonly at: number;
  /** When the piece of sound that completed it was handed to the worker, and when the worker turned to it. */
  readonly handed: number;
  readonly begun: number;
}

export interface Seen {
  readonly pieces: Piece[];
  readonly shown: Shown[];
  readonly recognised: Recognised[];
  /** Milliseconds that each search for the exact time of a word took. */
  readonly pinpoints: number[];
}

declare global {
  interface Window {
    /** Answers what was seen since the last call, and forgets it: the probe must not grow with the rehearsal. */
    takeSeen(): Seen;
  }
}

/** Runs in the page before anything of it does. It can use nothing from outside itself. */
export function installProbe(): void {
  const nothing = (): Seen => ({ pieces: [], shown: [], recognised: [], pinpoints: [] });
  let seen = nothing();
  window.takeSeen = () => {
    const taken = seen;
    seen = nothing();
    return taken;
  };

  let samples = 0;
  window.AudioWorkletNode = class extends AudioWorkletNode {
    constructor(context: BaseAudioContext, name: string, options?: AudioWorkletNodeOptions) {
      super(context, name, options);
      this.port.addEventListener('message', ({ data }: MessageEvent<unknown>) => {
        if (!(data instanceof Float32Array)) return;
        samples += data.length;
        const rendered = Math.round(context.currentTime * context.sampleRate);
        seen.pieces.push({ at: performance.now(), samples, rendered });
      });
    }
  };

  window.Worker = class extends Worker {
    /** When each call that is not yet answered was made, in order. */
    private readonly calls = new Map<number, { readonly type: string; readonly at: number }>();
    private lastDone = 0;

    constructor(url: string | URL, options?: WorkerOptions) {
      super(url, options);
      this.addEventListener('message', ({ data }: MessageEvent<Reply>) => {
        const at = performance.now();
        if (data.type === 'event') {
          const [current] = this.calls.values();
          if (data.event.type === 'utterance' && current)
            seen.recognised.push({ at, handed: current.at, begun: Math.max(current.at, this.lastDone) });
          return;
        }
        const call = this.calls.get(data.call);
        if (call?.type === 'pinpoint') seen.pinpoints.push(at - call.at);
        this.calls.delete(data.call);
        this.lastDone = at;
      });
    }

    override postMessage(message: Request, options: Transferable[] | StructuredSerializeOptions = []): void {
      this.calls.set(message.call, { type: message.ask.type, at: performance.now() });
      super.postMessage(message, Array.isArray(options) ? { transfer: options } : options);
    }
  };
  type Request = { readonly call: number; readonly ask: { readonly type: string } };
  type Reply =
    | { readonly type: 'event'; readonly event: { readonly type: string } }
    | { readonly type: 'done' | 'failed'; readonly call: number };

  let last = '';
  const look = (): void => {
    const shapes = [...document.querySelectorAll('.strip .shape')];
    const marks = shapes.map(({ classList }) => classList[1]!.replace('shape-', ''));
    const labels = shapes.map((shape) => shape.getAttribute('aria-label') ?? '');
    const latest = [...document.querySelectorAll('.latest > li > span')].map(({ firstChild }) =>
      labels.findIndex((label) => label.startsWith(`${firstChild?.textContent}: `)),
    );
    const now = JSON.stringify([marks, latest]);
    if (now === last) return;
    last = now;
    // The next frame paints it; a task that the frame sets off runs after.
    requestAnimationFrame(() => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = () => seen.shown.push({ at: performance.now(), marks, latest });
      port2.postMessage(null);
    });
  };
  new MutationObserver(look).observe(document, {
    subtree: true,
    childList: true,
    attributes: true,
    attributeFilter: ['class'],
  });
}
