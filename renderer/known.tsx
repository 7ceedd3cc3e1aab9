import { createContext, useCallback, useContext, useEffect, useMemo, useState } from 'react';
import { messageOf } from '../app/faults/faults.ts';
import type { Latest, Library, ModelStanding, People, Settings } from '../app/host/api.ts';
import { api } from './api.ts';
import { chosenOf, modelFor, nameOf } from './models.ts';
import './styles/stillReading.css';
import { Banners } from './parts/Banner.tsx';
import { troubleOf, type Trouble } from './room/troubles.ts';

/** What the host was asked for. */
interface Asked {
  readonly library: Library;
  readonly settings: Settings;
  readonly models: readonly ModelStanding[];
  readonly people: People;
  /** Of the trainee who is chosen, and of nobody; where none is chosen, of all that this page may see. */
  readonly latest: Latest;
}

/** What every screen may ask for: what the host knows, what follows from it, and how to change it. */
export interface Known extends Asked {
  /** The latest runs of each skill, and those that were cut off, newest first. */
  readonly rehearsals: Latest['rehearsals'];
  /** The model that is still to be got before anything can be heard, or else the one that hears. */
  readonly model: ModelStanding | null;
  /** Whether that model is here. */
  readonly canHear: boolean;
  /** What will listen, as records name it. */
  readonly listening: string;
  /** Asks the host again. */
  readonly refresh: () => Promise<void>;
  /** Saves settings; the screens have them at once. */
  readonly saveSettings: (settings: Settings) => void;
  /** Shows what went wrong. */
  readonly fail: (error: unknown) => void;
}

const KnownContext = createContext<Known | null>(null);

/** What the host knows. Only below a {@link KnownProvider}. */
export function useKnown(): Known {
  const known = useContext(KnownContext);
  if (!known) throw new Error('useKnown needs a KnownProvider above it.');
  return known;
}

async function askAll(): Promise<Asked> {
  const [library, settings, models, people, latest] = await Promise.all([
    api.library(),
    api.settings(),
    api.models(),
    api.people(),
    api.latest(),
  ]);
  return { library, settings, models, people, latest };
}

/** How often the host is asked again while it reads what is kept, ms. */
const AGAIN = 1000;

/** Opened beforehand, the model is ready when a rehearsal begins. What fails here is told when it is needed. */
function openBeforehand({ settings, models }: Asked): void {
  if (modelFor(settings, models)?.installed !== 'installed') return;
  import('./room/ear.ts')
    .then(({ openChoice }) => openChoice(chosenOf(settings, models), settings, models))
    .catch(() => undefined);
}

/** Asks the host before anything is shown, and says what went wrong. */
export function KnownProvider({ children }: { readonly children: React.ReactNode }) {
  const [asked, setAsked] = useState<Asked | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const fail = useCallback((error: unknown): void => setTrouble(troubleOf('program', messageOf(error))), []);
  const refresh = useCallback(
    (): Promise<void> =>
      askAll().then((all) => {
        setAsked(all);
        setTrouble(null);
        openBeforehand(all);
      }, fail),
    [fail],
  );
  useEffect(() => void refresh(), [refresh]);
  useEffect(() => {
    if (!asked?.latest.reading) return;
    const timer = setTimeout(
      () => void api.latest().then((latest) => setAsked((now) => now && { ...now, latest }), fail),
      AGAIN,
    );
    return () => clearTimeout(timer);
  }, [asked, fail]);
  const known = useMemo(() => asked && knownFrom(asked, setAsked, refresh, fail), [asked, refresh, fail]);

  return (
    <>
      <Banners troubles={trouble ? [trouble] : []}>
        <button type="button" className="button" onClick={() => (known ? setTrouble(null) : void refresh())}>
          {known ? 'Close' : 'Try again'}
        </button>
      </Banners>
      {known && <StillReading {...known.latest} />}
      {known && <KnownContext value={known}>{children}</KnownContext>}
      {!known && !trouble && <p className="opening">Opening…</p>}
    </>
  );
}

/** Tells that lists are not whole yet, as after an update of the program, when every rehearsal is marked again. */
function StillReading({ reading }: Pick<Latest, 'reading'>) {
  if (!reading) return null;
  const { done, of } = reading;
  return (
    <aside className="still-reading" aria-label="Reading what is kept">
      <label>
        Reading what is kept{of > 0 && `: ${done} of ${of} rehearsals`}. Lists and progress are not whole yet;
        you can rehearse meanwhile.
        <progress value={done} max={Math.max(1, of)} />
      </label>
    </aside>
  );
}

function knownFrom(
  asked: Asked,
  setAsked: (asked: Asked) => void,
  refresh: Known['refresh'],
  fail: Known['fail'],
): Known {
  const { settings, models, latest } = asked;
  const model = modelFor(settings, models);
  return {
    ...asked,
    rehearsals: latest.rehearsals,
    model,
    canHear: model?.installed === 'installed',
    listening: nameOf(settings, models, chosenOf(settings, models)),
    refresh,
    saveSettings: (next) => {
      setAsked({ ...asked, settings: next });
      api.saveSettings(next).catch(fail);
    },
    fail,
  };
}
