import { useState } from 'react';
import type { NewTrainee } from '../../app/host/api.ts';

/** A person's name and class, to be written. */
export function TraineeForm({
  action,
  start = { name: '', class: '' },
  onDone,
  onCancel,
}: {
  /** What the button says. */
  readonly action: string;
  readonly start?: Required<NewTrainee>;
  readonly onDone: (entered: NewTrainee) => Promise<void>;
  readonly onCancel: () => void;
}) {
  const [entered, setEntered] = useState<Required<NewTrainee>>({ name: start.name, class: start.class });
  const submit = (event: React.FormEvent): void => {
    event.preventDefault();
    void onDone(entered);
  };
  return (
    <form className="who-form" onSubmit={submit}>
      <label className="field">
        <span>Name or initials</span>
        <input
          value={entered.name}
          required
          pattern=".*\S.*"
          maxLength={80}
          autoFocus
          autoComplete="off"
          onChange={({ target }) => setEntered({ ...entered, name: target.value })}
        />
      </label>
      <label className="field">
        <span>Class, if any</span>
        <input
          value={entered.class}
          maxLength={80}
          autoComplete="off"
          onChange={({ target }) => setEntered({ ...entered, class: target.value })}
        />
      </label>
      <button type="submit" className="button">
        {action}
      </button>
      <button type="button" className="button quiet" onClick={onCancel}>
        Cancel
      </button>
    </form>
  );
}
