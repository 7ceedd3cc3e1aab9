import { useEffect, useRef, useState } from 'react';
import type { Path } from '../../../app/faults/faults.ts';
import {
  addStep,
  moveStep,
  nameOf,
  removeStep,
  setField,
  setKind,
  type FieldValue,
  type Kind,
  type NewStep,
  type StepView,
} from '../skillEdit.ts';

/** Ids of the buttons that take the focus along. */
export const buttonOf = (part: 'title' | 'up' | 'down', step: number): string => `step-${part}-${step}`;

/**
 * The list of steps as it is edited: which step is open, and what can be done to each. Every edit makes the whole text
 * again.
 */
export function useSteps(source: string, steps: readonly StepView[], onChange: (source: string) => void) {
  const [open, setOpen] = useState<number | null>(null);
  const [moved, setMoved] = useState('');
  const focusOn = useLaterFocus();
  const last = steps.length - 1;

  const move = (from: number, to: number): boolean => {
    const step = steps[from];
    if (!step || from === to || to < 0 || to > last) return false;
    onChange(moveStep(source, from, to));
    setMoved(`${nameOf(step)} is step ${to + 1} of ${steps.length} now.`);
    setOpen(open === from ? to : null);
    return true;
  };
  return {
    open,
    /** What a move came to, for screen readers. */
    moved,
    move,
    /** Moves a step by a button, which keeps the focus. */
    nudge: (from: number, way: 'up' | 'down'): void => {
      const to = way === 'up' ? from - 1 : from + 1;
      if (move(from, to)) focusOn(buttonOf(wayOn(way, to, last), to));
    },
    toggle: (step: number): void => setOpen(open === step ? null : step),
    add: (step: NewStep): void => {
      onChange(addStep(source, step));
      setOpen(steps.length);
      focusOn(buttonOf('title', steps.length));
    },
    remove: (step: number): void => {
      onChange(removeStep(source, step));
      setOpen(null);
      focusOn(buttonOf('title', Math.max(0, step - 1)));
    },
    setField: (step: number, path: Path, value: FieldValue): void =>
      onChange(setField(source, ['steps', step, ...path], value)),
    setKind: (step: number, kind: Kind): void => onChange(setKind(source, step, kind)),
  };
}

/** What can be done to the steps. */
export type StepEdits = ReturnType<typeof useSteps>;

/** At an end the way there is shut, so the other button takes the focus. */
function wayOn(way: 'up' | 'down', at: number, last: number): 'up' | 'down' {
  if (at === 0) return 'down';
  return at === last ? 'up' : way;
}

/** Sets the focus on what is drawn next: a button that has moved, or comes instead of one that is gone. */
function useLaterFocus(): (id: string) => void {
  const wanted = useRef('');
  useEffect(() => {
    if (wanted.current === '') return;
    document.getElementById(wanted.current)?.focus();
    wanted.current = '';
  });
  return (id) => {
    wanted.current = id;
  };
}
