import type { ModelStanding, Settings } from '../app/host/api.ts';
import {
  bestOf,
  enginesOf,
  LISTENING,
  type Best,
  type Engine,
  type Listening,
} from '../app/settings/choice.ts';

/**
 * The model an engine listens with: of its models that are here the one that is set, or else the first, one for people's voices
 * before others; the first of all where none is here, and null where it has none.
 */
export function modelOf(
  { model: wanted }: Settings,
  models: readonly ModelStanding[],
  engine: Engine,
): ModelStanding | null {
  const own = models.filter((model) => model.engine === engine);
  const here = own.filter(({ installed }) => installed === 'installed');
  return (
    here.find(({ id }) => id === wanted) ??
    here.find(({ forPeople }) => forPeople) ??
    here[0] ??
    own[0] ??
    null
  );
}

/** The models that a choice listens with. */
export const modelsOf = (
  settings: Settings,
  models: readonly ModelStanding[],
  choice: Listening,
): ModelStanding[] => enginesOf(choice).flatMap((engine) => modelOf(settings, models, engine) ?? []);

/** A choice with its models, as records name it. */
export const nameOf = (settings: Settings, models: readonly ModelStanding[], choice: Listening): string =>
  `${choice}/${modelsOf(settings, models, choice)
    .map(({ id }) => id)
    .join('+')}`;

/** The models that the user may choose between: those here for people's voices whose engine has more than one of them. */
export function rivalModels(models: readonly ModelStanding[]): ModelStanding[] {
  const usable = models.filter(({ installed, forPeople }) => installed === 'installed' && forPeople);
  return usable.filter(({ id, engine }) =>
    usable.some((other) => other.engine === engine && other.id !== id),
  );
}

/** What did best on this machine. */
export function bestHere(settings: Settings, models: readonly ModelStanding[]): Best {
  const usable = LISTENING.filter((choice) =>
    modelsOf(settings, models, choice).every(
      ({ installed, forPeople }) => installed === 'installed' && forPeople,
    ),
  );
  return bestOf(settings.trials, new Map(usable.map((choice) => [choice, nameOf(settings, models, choice)])));
}

/** What listens: what the user chose, or what did best. */
export const chosenOf = (settings: Settings, models: readonly ModelStanding[]): Listening =>
  settings.engine ?? bestHere(settings, models).listening;

/** The model that is still to be got before anything can be heard, or else the first of those that hear; null where there is none. */
export function modelFor(settings: Settings, models: readonly ModelStanding[]): ModelStanding | null {
  const wanted = modelsOf(settings, models, chosenOf(settings, models));
  return wanted.find(({ installed }) => installed !== 'installed') ?? wanted[0] ?? null;
}
