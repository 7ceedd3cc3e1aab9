import type { Rules } from './skill.ts';
import type { State } from './state.ts';

/** Seconds of the rehearsal up to `now` (seconds of the recording), pauses left out. It stands while paused and once ended. */
export function elapsed({ begun, paused, pausedSeconds, ended }: State, now: number): number {
  const until = Math.min(now, paused ?? Infinity, ended ?? Infinity);
  return Math.max(0, until - begun - pausedSeconds);
}

/** Seconds left by the rules, below zero once the time is up; null where there is no limit. */
export function timeLeft({ minutes }: Rules, state: State, now: number): number | null {
  return minutes === undefined ? null : minutes * 60 - elapsed(state, now);
}
