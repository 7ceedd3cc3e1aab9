/** The outline of a recording: how far it swings, 0–1, in each fiftieth of a second. */
export interface Peaks {
  readonly seconds: number;
  readonly heights: readonly number[];
}

/** Heights a second. */
export const PEAK_RATE = 50;

/** Bytes before the first sample of a WAV file as the host sends it: one channel, 16 bits; see `app/host/api.ts`. */
const WAV_HEADER = 44;
/** Where its header tells the samples a second. */
const WAV_RATE_AT = 24;

/** Gathers peaks of samples that come in pieces, so that no long recording need be held as a whole. */
export class PeakMeter {
  private readonly heights: number[] = [];
  private samples = 0;
  private highest = 0;

  /** @param rate samples a second */
  constructor(private readonly rate: number) {}

  /** @param sample −1…1 */
  add(sample: number): void {
    this.highest = Math.max(this.highest, Math.abs(sample));
    this.samples += 1;
    if (this.samples < ((this.heights.length + 1) * this.rate) / PEAK_RATE) return;
    this.heights.push(Math.min(1, this.highest));
    this.highest = 0;
  }

  get peaks(): Peaks {
    return { seconds: this.samples / this.rate, heights: [...this.heights] };
  }
}

/** The peaks of a WAV file as the host sends it, piece by piece. Null where it is shorter than its header. */
export async function peaksOfWav(pieces: AsyncIterable<Uint8Array>): Promise<Peaks | null> {
  let meter: PeakMeter | null = null;
  let rest: Uint8Array = new Uint8Array();
  for await (const piece of pieces) {
    let bytes = joined(rest, piece);
    if (!meter) {
      rest = bytes;
      if (bytes.length < WAV_HEADER) continue;
      meter = new PeakMeter(viewOf(bytes).getUint32(WAV_RATE_AT, true));
      bytes = bytes.subarray(WAV_HEADER);
    }
    const view = viewOf(bytes);
    const whole = bytes.length - (bytes.length % 2);
    for (let at = 0; at < whole; at += 2) meter.add(view.getInt16(at, true) / 32768);
    rest = bytes.slice(whole);
  }
  return meter?.peaks ?? null;
}

/** The highest of the peaks in each of some equal parts of the recording, for a drawing that is so many points wide. */
export function outlineOf({ heights }: Peaks, parts: number): number[] {
  const each = heights.length / parts;
  return Array.from({ length: parts }, (_, i) => {
    const from = Math.floor(i * each);
    return heights
      .slice(from, Math.max(from + 1, Math.floor((i + 1) * each)))
      .reduce((a, b) => Math.max(a, b), 0);
  });
}

/** Loads a recording of the host and gathers its peaks; what is no WAV file is decoded by the browser. */
export async function loadPeaks(url: string, signal: AbortSignal): Promise<Peaks | null> {
  const response = await fetch(url, { signal });
  if (!response.ok || !response.body) return null;
  const type = response.headers.get('content-type') ?? '';
  if (type.startsWith('audio/wav')) return peaksOfWav(piecesOf(response.body));
  const decoder = new OfflineAudioContext(1, 1, 16_000);
  const decoded = await decoder.decodeAudioData(await response.arrayBuffer());
  const meter = new PeakMeter(decoded.sampleRate);
  for (const sample of decoded.getChannelData(0)) meter.add(sample);
  return meter.peaks;
}

/** A stream's pieces; streams cannot be looped over in every browser yet. */
async function* piecesOf(stream: ReadableStream<Uint8Array>): AsyncGenerator<Uint8Array> {
  const reader = stream.getReader();
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    yield value;
  }
}

const viewOf = (bytes: Uint8Array): DataView =>
  new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

function joined(a: Uint8Array, b: Uint8Array): Uint8Array {
  const both = new Uint8Array(a.length + b.length);
  both.set(a);
  both.set(b, a.length);
  return both;
}
