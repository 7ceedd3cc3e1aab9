import type { Rules } from '../skills/skill.ts';
import type { State } from './state.ts';

/** Seconds of the rehearsal up to `now` (seconds of the recording), pauses left out. It stands while paused and once ended. */
export function elapsed({ begun, paused, pausedSeconds, ended }: State, now: number): number {
  const until = Math.min(now, paused ?? Infinity, ended ?? Infinity);
  return Math.max(0, until - begun - pausedSeconds);
}

/** Minutes and seconds of a time in seconds, as a clock shows them: 75.4 → "1:15". */
export function minutes(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}

/** Seconds left by the rules, below zero once the time is up; null where there is no limit. */
export function timeLeft({ minutes }: Rules, state: State, now: number): number | null {
  return minutes === undefined ? null : minutes * 60 - elapsed(state, now);
}
