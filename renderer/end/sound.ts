import { useEffect, useRef, useState } from 'react';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';

/** Seconds of sound played before and after the words a mark rests on. */
const AROUND = 0.3;

/** The host sends a WAV file: so many bytes of header, then 16-bit samples. */
const HEADER_BYTES = 44;
const SAMPLE_BYTES = 2;

/** The sound of a rehearsal as the host keeps it, fetched stretch by stretch. */
export interface Sound {
  /** Seconds of it that are kept; 0 where there is none, or it is not known yet. */
  readonly seconds: number;
  /** The name of what is being played; null while nothing is. */
  readonly playing: string | null;
  /** Why the last stretch could not be played; empty when it could. */
  readonly failed: string;
  /** Plays a stretch in seconds, and a little around it, under a name; stops it where that is playing already. */
  readonly toggle: (name: string, from: number, to: number) => void;
}

/** The range of bytes that holds a stretch in seconds and a little around it, both ends included (RFC 9110, section 14). */
export function bytesOf(from: number, to: number): string {
  const byteAt = (seconds: number): number =>
    HEADER_BYTES + SAMPLE_BYTES * Math.max(0, Math.round(seconds * SAMPLE_RATE));
  return `bytes=${byteAt(from - AROUND)}-${byteAt(to + AROUND) - 1}`;
}

/** @param source address of the sound; null where none was kept */
export function useSound(source: string | null): Sound {
  const [seconds, setSeconds] = useState(0);
  const [playing, setPlaying] = useState<string | null>(null);
  const [failed, setFailed] = useState('');
  /** Ends what is being fetched or played. */
  const halt = useRef<() => void>(() => undefined);

  useEffect(() => {
    let wanted = true;
    if (source !== null)
      void secondsKept(source).then(
        (kept) => wanted && setSeconds(kept),
        () => undefined,
      );
    return () => {
      wanted = false;
      halt.current();
      setSeconds(0);
    };
  }, [source]);

  const toggle = (name: string, from: number, to: number): void => {
    halt.current();
    if (source === null || playing === name) return;
    const stop = new AbortController();
    halt.current = () => {
      stop.abort();
      setPlaying(null);
    };
    setPlaying(name);
    setFailed('');
    play(source, bytesOf(from, to), stop.signal)
      .catch(() =>
        setFailed('This sound could not be played. See that the program still runs, then try again.'),
      )
      .finally(() => setPlaying((now) => (stop.signal.aborted ? now : null)));
  };
  return { seconds, playing, failed, toggle };
}

/** How much sound is kept, in seconds: the host says the file's size with any range of it. */
async function secondsKept(source: string): Promise<number> {
  const response = await fetch(source, { headers: { range: `bytes=0-${HEADER_BYTES - 1}` } });
  const [, size] = /\/(\d+)$/.exec(response.headers.get('content-range') ?? '') ?? [];
  return Math.max(0, Number(size ?? 0) - HEADER_BYTES) / SAMPLE_BYTES / SAMPLE_RATE;
}

/** Plays a range of the sound. Resolves at its end, or at once when it is stopped. */
async function play(source: string, range: string, stopped: AbortSignal): Promise<void> {
  const context = new AudioContext();
  try {
    const response = await fetch(source, { headers: { range }, signal: stopped });
    if (response.status !== 206) throw new Error(`${source} answered ${response.status}.`);
    const bytes = new DataView(await response.arrayBuffer());
    const buffer = context.createBuffer(1, Math.max(1, bytes.byteLength / SAMPLE_BYTES), SAMPLE_RATE);
    buffer.getChannelData(0).forEach((_, i, samples) => {
      samples[i] = bytes.getInt16(SAMPLE_BYTES * i, true) / 32768;
    });
    const node = new AudioBufferSourceNode(context, { buffer });
    node.connect(context.destination);
    await new Promise<void>((done) => {
      node.onended = () => done();
      stopped.addEventListener('abort', () => done());
      node.start();
    });
  } catch (error) {
    if (!stopped.aborted) throw error;
  } finally {
    await context.close();
  }
}
