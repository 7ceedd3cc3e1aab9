import { useEffect, useRef, useState } from 'react';

/** A recording being played, or its moments alone where there is no sound. */
export interface Sound {
  /** Whether there is sound to play. */
  readonly ready: boolean;
  readonly playing: boolean;
  /** Where it is, seconds; null until it was played or moved for the first time. */
  readonly now: number | null;
  readonly playOrStop: () => void;
  readonly seek: (to: number) => void;
  /** Plays a stretch, seconds, and a little around it. */
  readonly play: (from: number, to: number) => void;
}

/** Seconds of sound played before and after a stretch. */
const AROUND = 0.3;

/** @param source address of the sound; null where none was kept */
export function useSound(source: string | null): Sound {
  const element = useRef<HTMLAudioElement | null>(null);
  const stopAt = useRef(Infinity);
  const [ready, setReady] = useState(false);
  const [playing, setPlaying] = useState(false);
  const [now, setNow] = useState<number | null>(null);
  useEffect(() => {
    if (source === null) return;
    const audio = new Audio(source);
    audio.preload = 'metadata';
    audio.onloadedmetadata = () => setReady(true);
    audio.onerror = () => setReady(false);
    audio.onplay = () => setPlaying(true);
    audio.onpause = () => setPlaying(false);
    audio.ontimeupdate = () => {
      setNow(audio.currentTime);
      if (audio.currentTime >= stopAt.current) audio.pause();
    };
    element.current = audio;
    return () => {
      audio.pause();
      audio.removeAttribute('src');
      element.current = null;
      setReady(false);
      setPlaying(false);
    };
  }, [source]);

  const seek = (to: number): void => {
    stopAt.current = Infinity;
    setNow(to);
    if (element.current) element.current.currentTime = to;
  };
  return {
    ready,
    playing,
    now,
    seek,
    playOrStop: () => {
      const audio = element.current;
      if (!audio) return;
      stopAt.current = Infinity;
      if (audio.paused) void audio.play();
      else audio.pause();
    },
    play: (from, to) => {
      seek(Math.max(0, from - AROUND));
      stopAt.current = to + AROUND;
      void element.current?.play();
    },
  };
}
