import { useId, useState } from 'react';

/** A number to be written down. What lies outside `from` to `to` is asked about, and recorded all the same if wanted. */
export interface Field {
  readonly label: string;
  readonly from: number;
  readonly to: number;
  /** Marks of the instrument; what lies on none of them is asked about. */
  readonly mark: number;
}

/** A number as it is written down: digits, a decimal point or comma. Null where it is none. */
function numberOf(text: string): number | null {
  const clean = text.trim().replace(',', '.');
  return /^\d+(\.\d+)?$/.test(clean) ? Number(clean) : null;
}

const isOnMark = (value: number, mark: number): boolean =>
  Math.abs(value / mark - Math.round(value / mark)) < 1e-6;

/** What is odd about a number, as a question; null where nothing is. */
function questionOn({ label, from, to, mark }: Field, value: number): string | null {
  if (value < from || value > to) return `${label}: ${value} would be very unusual. Is it what you mean?`;
  return isOnMark(value, mark) ? null : `${label}: there is no mark for ${value}. Is it what you mean?`;
}

/** Where the reading is written down. */
export function Entry({
  fields,
  isNext = false,
  onRecord,
}: {
  readonly fields: readonly Field[];
  /** Whether writing it down is all that is left to do. */
  readonly isNext?: boolean;
  readonly onRecord: (values: readonly number[]) => void;
}) {
  const id = useId();
  const [texts, setTexts] = useState<readonly string[]>(fields.map(() => ''));
  const [questions, setQuestions] = useState<readonly string[]>([]);
  const values = texts.map(numberOf);
  const numbers = values.filter((value) => value !== null);
  const isWhole = numbers.length === fields.length;

  const record = (event: React.SyntheticEvent): void => {
    event.preventDefault();
    if (!isWhole) return setQuestions(['Write the number down in digits.']);
    const asked = fields.flatMap((field, i) => questionOn(field, numbers[i] ?? NaN) ?? []);
    if (asked.length === 0 || asked.join() === questions.join()) onRecord(numbers);
    else setQuestions(asked);
  };

  return (
    <form className="bench-entry" onSubmit={record}>
      {fields.map(({ label }, i) => (
        <label key={label} htmlFor={`${id}${i}`}>
          {label}
          <input
            id={`${id}${i}`}
            type="text"
            inputMode="decimal"
            autoComplete="off"
            autoFocus={isNext && i === 0}
            value={texts[i]}
            onChange={({ target }) => {
              setTexts(texts.with(i, target.value));
              setQuestions([]);
            }}
          />
        </label>
      ))}
      <button type="submit" className="button main">
        {questions.length > 0 && isWhole ? 'Yes, record it' : 'Record'}
      </button>
      <div role="status">
        {questions.map((question) => (
          <p key={question}>{question}</p>
        ))}
      </div>
    </form>
  );
}
