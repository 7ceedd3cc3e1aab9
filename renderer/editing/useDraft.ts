import { useCallback, useEffect, useState } from 'react';
import { messageOf, type Fault } from '../../app/faults/faults.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { api, HostFailed } from '../api.ts';
import { forgetDraft, keepDraft } from './drafts.ts';
import { setField, viewOf } from './skillEdit.ts';
import type { TextNow } from './text/openText.ts';

/** A skill file that is being written. */
export interface Draft {
  readonly id: string;
  readonly source: string;
  /** The file's own text; null for a new one. */
  readonly saved: string | null;
}

/** What the last thing done came to. */
export type News =
  | { readonly kind: 'none' }
  | { readonly kind: 'said'; readonly text: string }
  | { readonly kind: 'refused'; readonly message: string; readonly faults: readonly Fault[] };

const NONE: News = { kind: 'none' };
const KEPT: News = { kind: 'said', text: 'What you wrote last time and did not save is here again.' };

/**
 * A skill file while it is written: its text, kept in this browser until it is saved, and its versions.
 *
 * @param onSaved called after each save
 */
export function useDraft(draft: Draft, onSaved: () => void) {
  const [now, setNow] = useState<TextNow>({ source: unix(draft.source), canUndo: false, canRedo: false });
  const [saved, setSaved] = useState(draft.saved === null ? null : unix(draft.saved));
  const { source } = now;
  const dirty = source !== saved;
  const [news, setNews] = useState<News>(saved !== null && dirty ? KEPT : NONE);
  const versions = useVersions(draft.id, saved);

  useEffect(() => {
    if (dirty) keepDraft(draft.id, source);
    else forgetDraft(draft.id);
  }, [dirty, draft.id, source]);

  const write = useCallback((next: TextNow): void => {
    setNow(next);
    setNews(NONE);
  }, []);
  const refuse = (error: unknown): void => {
    const faults = error instanceof HostFailed ? error.faults : [];
    setNews({
      kind: 'refused',
      message: faults.length > 0 ? 'It was not saved:' : messageOf(error),
      faults,
    });
  };
  const save = async (): Promise<void> => {
    try {
      const version = await api.saveSkill(draft.id, source, saved === null);
      setSaved(source);
      setNews({ kind: 'said', text: `Saved as version ${version}. It can be rehearsed now.` });
      onSaved();
    } catch (error) {
      refuse(error);
    }
  };
  /** An earlier version's text, as the next version; null where it cannot be had. */
  const earlier = async (version: number): Promise<string | null> => {
    try {
      const old = await api.skillVersionSource(draft.id, version);
      const last = Math.max(Number(viewOf(source)?.version) || 0, ...versions.map((each) => each.version));
      return setField(setField(old, ['version'], last + 1), ['change'], `As version ${version} was.`);
    } catch (error) {
      refuse(error);
      return null;
    }
  };
  return { ...now, dirty, news, versions, write, save, earlier };
}

/** The earlier versions of a skill that are kept, asked for again after each save. */
function useVersions(id: string, saved: string | null): readonly Skill[] {
  const [versions, setVersions] = useState<readonly Skill[]>([]);
  useEffect(() => {
    // Without them all else can be done.
    if (saved !== null) api.skillVersions(id).then(setVersions, () => undefined);
  }, [id, saved]);
  return versions;
}

/** Lines end as the text editor ends them: a file from Windows is not changed by being opened. */
const unix = (text: string): string => text.replace(/\r\n?/g, '\n');
