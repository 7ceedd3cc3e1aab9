import { useState } from 'react';
import type { InstallProgress, ModelStanding } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { megabytes } from '../words.ts';

export type Getting =
  | { readonly at: 'asked' }
  | { readonly at: 'getting'; readonly from: string; readonly bytes: number; readonly total: number }
  | { readonly at: 'failed'; readonly message: string };

const ASKED = { at: 'asked' } as Getting;

/** What the screen shows after one more message of how getting the model goes. */
export function afterProgress(now: Getting, progress: InstallProgress): Getting {
  switch (progress.type) {
    case 'source':
      return { at: 'getting', from: progress.name, bytes: 0, total: progress.totalBytes };
    case 'bytes':
      return now.at === 'getting' ? { ...now, bytes: progress.bytes } : now;
    case 'failed':
      return { at: 'getting', from: 'the next source', bytes: 0, total: 0 };
    case 'error':
      return { at: 'failed', message: progress.message };
    case 'recorded':
    case 'done':
      return now;
  }
}

/** Offers to get a model that is missing or damaged, and shows how that goes. */
export function ModelGetter({
  model,
  onDone,
}: {
  readonly model: ModelStanding;
  readonly onDone: () => void;
}) {
  const [getting, setGetting] = useState<Getting | null>(null);

  const get = async (): Promise<void> => {
    setGetting(ASKED);
    let now = ASKED;
    try {
      await api.getModel(model.id, (progress) => {
        now = afterProgress(now, progress);
        setGetting(now);
      });
      if (now.at !== 'failed') onDone();
    } catch (error) {
      setGetting({ at: 'failed', message: messageOf(error) });
    }
  };

  const busy = getting !== null && getting.at !== 'failed';
  return (
    <section className="notice" aria-label="Speech model">
      <p>
        <strong>
          {model.installed === 'corrupt'
            ? 'The speech model is damaged.'
            : 'The speech model is not here yet.'}
        </strong>{' '}
        It is got once ({megabytes(model.bytes)}, licence {model.licence}) and then works without a network.
      </p>
      {getting?.at === 'failed' && <p className="prewrap">{getting.message}</p>}
      {busy && (
        <div className="getting" aria-live="polite">
          <progress
            aria-label="Getting the speech model"
            {...(getting.at === 'getting' && getting.total > 0
              ? { value: getting.bytes, max: getting.total }
              : {})}
          />
          <span>
            {getting.at === 'getting' && getting.total > 0
              ? `${megabytes(getting.bytes)} of ${megabytes(getting.total)} from ${getting.from}`
              : 'Looking for it…'}
          </span>
        </div>
      )}
      <button type="button" className="button main" disabled={busy} onClick={() => void get()}>
        {getting?.at === 'failed' ? 'Try again' : 'Get the speech model'}
      </button>
    </section>
  );
}
