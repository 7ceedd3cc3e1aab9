/** Steps that this one must come after, or before. */
export function Order({
  label,
  ids,
  others,
  onChange,
}: {
  readonly label: string;
  readonly ids: readonly string[];
  readonly others: readonly string[];
  readonly onChange: (ids: readonly string[]) => void;
}) {
  return (
    <div className="order">
      <label className="choice">
        <span>{label}</span>
        <select value="" onChange={({ target }) => onChange([...ids, target.value])}>
          <option value="">add a step…</option>
          {others
            .filter((id) => id !== '' && !ids.includes(id))
            .map((id) => (
              <option key={id}>{id}</option>
            ))}
        </select>
      </label>
      {ids.map((id) => (
        <button
          key={id}
          type="button"
          className="chip"
          aria-label={`${label} ${id}: take out`}
          onClick={() => onChange(ids.filter((other) => other !== id))}
        >
          {id} <span aria-hidden="true">×</span>
        </button>
      ))}
    </div>
  );
}
