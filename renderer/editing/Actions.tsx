import type { useDraft } from './useDraft.ts';

/** What is done with the file as a whole. */
export function Actions({
  draft,
  onUndo,
  onRedo,
  onVersion,
  onBack,
}: {
  readonly draft: ReturnType<typeof useDraft>;
  readonly onUndo: () => void;
  readonly onRedo: () => void;
  /** Brings an earlier version back. */
  readonly onVersion: (version: number) => void;
  readonly onBack: () => void;
}) {
  const { dirty, canUndo, canRedo, versions } = draft;
  return (
    <div className="actions">
      <button type="button" className="button main" disabled={!dirty} onClick={() => void draft.save()}>
        Save
      </button>
      <button type="button" className="button" disabled={!canUndo} onClick={onUndo}>
        Undo
      </button>
      <button type="button" className="button" disabled={!canRedo} onClick={onRedo}>
        Redo
      </button>
      <button type="button" className="button" onClick={onBack}>
        Back to the skills
      </button>
      {versions.length > 0 && (
        <select
          aria-label="Bring an earlier version back"
          value=""
          onChange={({ target }) => onVersion(Number(target.value))}
        >
          <option value="">bring a version back…</option>
          {versions.map(({ version, change }) => (
            <option key={version} value={version}>
              {version}
              {change === undefined ? '' : `: ${change}`}
            </option>
          ))}
        </select>
      )}
      <p className="saved" role="status">
        {standing(draft)}
      </p>
    </div>
  );
}

function standing({ news, dirty }: ReturnType<typeof useDraft>): string {
  if (news.kind === 'said') return news.text;
  return dirty ? 'Not saved yet.' : 'Nothing to save.';
}
