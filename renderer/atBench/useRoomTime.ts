import { useEffect, useRef, useState } from 'react';
import type { Passing } from '../bench/useTime.ts';

/** The recording's time comes in pieces of a tenth of a second: from picture to picture only so much of its lead over the page's clock is taken. */
const EASE = 0.01;
/** Milliseconds beyond which the two have parted, as when the microphone was lost: then the recording's time is taken at once. */
const PARTED = 300;

/**
 * The resident's own time, picture by picture: the recording's, on which the truth rests, made smooth by the page's clock.
 *
 * @param moment seconds of the recording, as they pass
 * @param met when the resident was met, in the same
 */
export function useRoomTime(moment: () => number, met: number): Passing {
  const [seconds, setSeconds] = useState(0);
  const origin = useRef(0);
  useEffect(() => {
    const originNow = (): number => performance.now() - 1000 * (moment() - met);
    origin.current = originNow();
    const tick = (now: number): void => {
      const off = originNow() - origin.current;
      origin.current += Math.abs(off) > PARTED ? off : EASE * off;
      setSeconds(Math.max(0, now - origin.current) / 1000);
      frame = requestAnimationFrame(tick);
    };
    let frame = requestAnimationFrame(tick);
    return () => cancelAnimationFrame(frame);
  }, [moment, met]);
  return { seconds, pageTime: (at) => origin.current + at * 1000 };
}
