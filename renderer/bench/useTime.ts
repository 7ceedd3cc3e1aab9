import { useEffect, useRef, useState } from 'react';
import type { Moment } from '../../app/bench/rhythm.ts';

/** How far ahead of its moment a sound is handed to the browser, in seconds: more than a picture or two, less than a decision. */
const AHEAD = 0.12;
/** A sound whose moment was missed by more than this, as in a window that was hidden, is not made up for. */
const MISSED = 0.03;

/** Time as it passes, picture by picture. */
export interface Passing {
  /** Seconds since it began to run. */
  readonly seconds: number;
  /** When a moment comes, in milliseconds of the page's own clock (`performance.now`). */
  readonly pageTime: (at: number) => number;
}

/** A time that runs with the screen's pictures for as long as its component is there. */
export function useTime(): Passing {
  const [seconds, setSeconds] = useState(0);
  const origin = useRef(0);
  useEffect(() => {
    origin.current = performance.now();
    const tick = (now: number): void => {
      setSeconds(Math.max(0, now - origin.current) / 1000);
      frame = requestAnimationFrame(tick);
    };
    let frame = requestAnimationFrame(tick);
    return () => cancelAnimationFrame(frame);
  }, []);
  return { seconds, pageTime: (at) => origin.current + at * 1000 };
}

/** Hands each moment to `play` once, shortly before it comes, with its time on the page's clock. */
export function useCues<T extends Moment>(
  { seconds, pageTime }: Passing,
  moments: readonly T[],
  play: (moment: T, pageTime: number) => void,
): void {
  const done = useRef(0);
  useEffect(() => {
    const from = Math.max(done.current, seconds - MISSED);
    done.current = seconds + AHEAD;
    for (const moment of moments)
      if (moment.at >= from && moment.at < done.current) play(moment, pageTime(moment.at));
  });
}

/** Whether the user's system asks for less movement. */
export function useLessMotion(): boolean {
  const [less, setLess] = useState(() => matchMedia('(prefers-reduced-motion: reduce)').matches);
  useEffect(() => {
    const query = matchMedia('(prefers-reduced-motion: reduce)');
    const change = (): void => setLess(query.matches);
    query.addEventListener('change', change);
    return () => query.removeEventListener('change', change);
  }, []);
  return less;
}
