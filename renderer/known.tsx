import { createContext, useCallback, useContext, useEffect, useMemo, useState } from 'react';
import { messageOf } from '../app/faults/faults.ts';
import type { Library, ModelStanding, People, RehearsalSummary, Settings } from '../app/host/api.ts';
import { api } from './api.ts';
import { chosenOf, modelFor, nameOf } from './models.ts';
import { Banners } from './parts/Banner.tsx';
import { troubleOf, type Trouble } from './room/troubles.ts';

/** What the host was asked for. */
interface Asked {
  readonly library: Library;
  readonly settings: Settings;
  readonly models: readonly ModelStanding[];
  readonly people: People;
  /** All that this page may see, newest first. */
  readonly allRehearsals: readonly RehearsalSummary[];
}

/** What every screen may ask for: what the host knows, what follows from it, and how to change it. */
export interface Known extends Asked {
  /** Where a trainee is chosen, theirs and those of nobody; else all. Newest first. */
  readonly rehearsals: readonly RehearsalSummary[];
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
  const [library, settings, models, people, allRehearsals] = await Promise.all([
    api.library(),
    api.settings(),
    api.models(),
    api.people(),
    api.rehearsals(),
  ]);
  return { library, settings, models, people, allRehearsals };
}

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
  const known = useMemo(() => asked && knownFrom(asked, setAsked, refresh, fail), [asked, refresh, fail]);

  return (
    <>
      <Banners troubles={trouble ? [trouble] : []}>
        <button type="button" className="button" onClick={() => (known ? setTrouble(null) : void refresh())}>
          {known ? 'Close' : 'Try again'}
        </button>
      </Banners>
      {known && <KnownContext value={known}>{children}</KnownContext>}
      {!known && !trouble && <p className="opening">Opening…</p>}
    </>
  );
}

function knownFrom(
  asked: Asked,
  setAsked: (asked: Asked) => void,
  refresh: Known['refresh'],
  fail: Known['fail'],
): Known {
  const { settings, models, people, allRehearsals } = asked;
  const model = modelFor(settings, models);
  const isShown = ({ trainee = null }: RehearsalSummary): boolean =>
    people.chosen === null || trainee === null || trainee === people.chosen;
  return {
    ...asked,
    rehearsals: allRehearsals.filter(isShown),
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
