import type { Checklist } from '../app/rehearsal/checklist.ts';
import type { Command } from '../app/rehearsal/commands.ts';
import type { State } from '../app/rehearsal/state.ts';

export const replyTo = (command: Command, checklist: Checklist, _state: State, _now: number): string =>
  command === 'read card' ? checklist.skill.card : `(${command})`;
export const nudgeFor = (_checklist: Checklist, _state: State, _now: number): string | null => null;
export const testTime = (state: State, now: number): { elapsed: number; limit: number } => ({
  elapsed: Math.max(0, (state.paused ?? now) - state.begun - state.pausedSeconds),
  limit: 1800,
});
export const bestSaying = (step: { text: string }, _lexicon: unknown): string => step.text;
export const talkOf = (_c: Checklist, state: State) => ({
  seconds: state.ended ?? 60,
  share: 0.5,
  silences: [{ from: 3, to: 12, place: 'after x' }],
});
