import { useEffect, useId, useState } from 'react';

/** The texts of some lines, without those that are empty. */
const linesOf = (text: string): string[] =>
  text
    .split('\n')
    .map((line) => line.trim())
    .filter((line) => line !== '');

/** A list of texts, written one a line. What is being written stays as it is while it means the same list. */
export function Lines({
  label,
  hint,
  value,
  onChange,
}: {
  readonly label: string;
  readonly hint?: string;
  readonly value: readonly string[];
  readonly onChange: (value: string[]) => void;
}) {
  const [text, setText] = useState(value.join('\n'));
  const id = useId();
  const joined = value.join('\n');
  useEffect(() => setText((now) => (linesOf(now).join('\n') === joined ? now : joined)), [joined]);
  return (
    <div className="field">
      <label htmlFor={id}>{label}</label>
      {hint !== undefined && (
        <span className="hint" id={`${id}-hint`}>
          {hint}
        </span>
      )}
      <textarea
        id={id}
        rows={Math.max(2, text.split('\n').length)}
        value={text}
        spellCheck={false}
        aria-describedby={hint === undefined ? undefined : `${id}-hint`}
        onChange={({ target }) => {
          setText(target.value);
          onChange(linesOf(target.value));
        }}
      />
    </div>
  );
}
