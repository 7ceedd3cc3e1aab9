import { useCallback, useEffect, useReducer, useRef, useState } from 'react';
import { chooseVariants, makeChecklist, type Checklist } from '../app/skills/checklist.ts';
import { sayResult } from '../app/run/coach.ts';
import { markTest } from '../app/run/mockTest.ts';
import { foldRun, NO_RUN, openSkill, type RunState, type SkillRun } from '../app/run/runState.ts';
import { markRehearsal } from '../app/marking/result.ts';
import { planOf, versionRemarks, type TestPlan } from '../app/run/testPlan.ts';
import type { Skill } from '../app/skills/skill.ts';
import { BEFORE, fold, type State } from '../app/marking/state.ts';
import type {
  DesktopBridge,
  Library,
  ModelStanding,
  Rehearsal,
  RehearsalSummary,
  Settings,
} from '../app/host/api.ts';
import { api } from './api.ts';
import { chosenOf, modelsOf, nameOf, openChoice } from './room/ear.ts';
import { Banners } from './parts/Banner.tsx';
import { Room as RoomModel, type Ended, type PastRehearsal, type Plan } from './room/room.ts';
import { End } from './screens/End.tsx';
import { Listening } from './screens/Listening.tsx';
import { MockTest } from './screens/MockTest.tsx';
import { Past } from './screens/Past.tsx';
import { Room } from './screens/Room.tsx';
import { Skills } from './screens/Skills.tsx';
import { SoundCheck } from './screens/SoundCheck.tsx';
import { Start } from './screens/Start.tsx';
import { TestEnd } from './screens/TestEnd.tsx';
import { troubleOf, type Trouble } from './room/troubles.ts';
import { Voice } from './room/voice.ts';
import type { Loudness } from '../app/marking/events.ts';
import { loudnessIn, loudnessWithin } from '../app/loudness/voiceOverNoise.ts';
import { messageOf } from '../app/faults/faults.ts';

declare global {
  interface Window {
    /** Present in the desktop program only. */
    readonly sinkside?: DesktopBridge;
  }
}

/** What the host knows, as far as it was asked. */
interface Known {
  readonly library: Library;
  readonly settings: Settings;
  readonly models: readonly ModelStanding[];
  /** The model that is still to be got before anything can be heard, or else the one that hears. */
  readonly model: ModelStanding | null;
  readonly rehearsals: readonly RehearsalSummary[];
}

type Screen =
  | { readonly name: 'start' | 'sound check' | 'past' | 'mock test' | 'skills' | 'listening' }
  | { readonly name: 'room'; readonly room: RoomModel }
  | {
      readonly name: 'end';
      readonly checklist: Checklist;
      readonly state: State;
      readonly loudness: readonly Loudness[];
      readonly listening: string;
      readonly only: ReadonlySet<string> | null;
      readonly id: string | null;
      readonly record: string | null;
      readonly remarks: readonly string[];
      readonly from: Screen;
    }
  | {
      readonly name: 'test end';
      readonly plan: TestPlan;
      readonly test: RunState;
      readonly loudness: readonly Loudness[];
      readonly listening: string;
      readonly id: string | null;
      readonly remarks: readonly string[];
      readonly from: 'start' | 'past';
    };

async function askAll(): Promise<Known> {
  const [library, settings, models, rehearsals] = await Promise.all([
    api.library(),
    api.settings(),
    api.models(),
    api.rehearsals(),
  ]);
  return { library, settings, models, model: modelFor(settings, models), rehearsals };
}

function modelFor(settings: Settings, models: readonly ModelStanding[]): ModelStanding | null {
  const wanted = modelsOf(settings, models, chosenOf(settings, models));
  return wanted.find(({ installed }) => installed !== 'installed') ?? wanted[0] ?? null;
}

/** The whole program in the page: one screen at a time. */
export function App() {
  const [known, setKnown] = useState<Known | null>(null);
  const [screen, go] = useReducer((_: Screen, next: Screen) => next, { name: 'start' });
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [forgotten, setForgotten] = useState<ReadonlySet<string>>(new Set());
  const room = useRef<RoomModel | null>(null);

  const fail = useCallback((error: unknown): void => {
    setTrouble(troubleOf('program', messageOf(error)));
  }, []);
  const refresh = useCallback(
    (): Promise<void> =>
      askAll().then((all) => {
        setKnown(all);
        setTrouble(null);
        // Opened beforehand, the model is ready when the rehearsal is to begin.
        if (all.model?.installed === 'installed')
          openChoice(chosenOf(all.settings, all.models), all.settings, all.models).catch(() => undefined);
      }, fail),
    [fail],
  );
  useEffect(() => void refresh(), [refresh]);
  useEffect(() => window.sinkside?.onClosing(async () => room.current?.flush()), []);
  const theme = known?.settings.theme ?? 'system';
  useEffect(() => {
    document.documentElement.dataset['theme'] = theme;
  }, [theme]);
  useEffect(() => {
    document.title = `${TITLES[screen.name]} · Sinkside`;
  }, [screen.name]);

  if (!known)
    return (
      <main className="page">
        <Banners troubles={trouble ? [trouble] : []}>
          <button type="button" className="button" onClick={() => void refresh()}>
            Try again
          </button>
        </Banners>
        {!trouble && <p>Opening…</p>}
      </main>
    );

  const { library, settings, models, model, rehearsals } = known;
  const listening = nameOf(settings, models, chosenOf(settings, models));

  const saveSettings = (next: Settings): void => {
    setKnown({ ...known, settings: next, model: modelFor(next, known.models) });
    api.saveSettings(next).catch(fail);
  };

  const start = (
    skill: Skill,
    variants: Readonly<Record<string, string>>,
    only: ReadonlySet<string> | null = null,
    past: PastRehearsal | null = null,
  ): void => {
    const next = { ...settings, skill: skill.id, variants: { ...variants } };
    saveSettings(next);
    const checklist = makeChecklist(skill, library.lexicon, library.rules, variants);
    enter({ checklist, test: null, lexicon: library.lexicon, settings: next, only, past });
  };

  const startTest = (test: TestPlan, past: PastRehearsal | null = null): void =>
    enter({
      checklist: test.checklists[0]!,
      test,
      lexicon: library.lexicon,
      settings: { ...settings, style: test.rules.silent ? 'silent' : settings.style },
      only: null,
      past,
    });

  const enter = (plan: Plan): void => {
    const opened = new RoomModel(plan, (ended) => leave(opened, ended));
    room.current = opened;
    go({ name: 'room', room: opened });
  };

  const leave = (from: RoomModel, { state, test, id, by, ...sound }: Ended): void => {
    void from.close().then(refresh);
    room.current = null;
    const { checklist, only, test: plan } = from.plan;
    const following = library.skills[library.skills.findIndex((s) => s.id === checklist.skill.id) + 1];
    if (state === null) go({ name: 'start' });
    else if (plan && test) go({ name: 'test end', plan, test, ...sound, id, remarks: [], from: 'start' });
    else if (by === 'next skill' && following) start(following, chooseVariants(following, {}));
    else {
      const kept = { id, record: id, remarks: [] };
      go({ name: 'end', checklist, state, ...sound, only, ...kept, from: { name: 'start' } });
      sayAloud(settings, sayResult(checklist, markRehearsal(checklist, state)));
    }
  };

  /** The skill of a rehearsal in the version it is marked under, or as it is now where that one is not kept. */
  const skillOf = async ({ header }: Rehearsal): Promise<Skill> => {
    const now = library.skills.find((each) => each.id === header.skill);
    if (now && (header.version ?? now.version) === now.version) return now;
    const kept = await api.skillVersions(header.skill);
    const skill = kept.find(({ version }) => version === header.version) ?? now;
    if (!skill) throw new Error(`Its skill "${header.skill}" is no longer among the skills of this program.`);
    return skill;
  };

  const goOnWith = async (id: string): Promise<void> => {
    try {
      const rehearsal = await api.rehearsal(id);
      const { header, events, kept, samples } = rehearsal;
      const past = { id, events, kept, samples };
      const drawn = events.find((event) => event.type === 'drawn');
      if (drawn) return startTest(planOf(library, drawn), past);
      const only = header.only ? new Set(header.only) : null;
      start(await skillOf(rehearsal), header.variants, only, past);
    } catch (error) {
      fail(error);
    }
  };

  const open = async (id: string, from: 'start' | 'past'): Promise<void> => {
    try {
      const rehearsal = await api.rehearsal(id);
      const { header, events, faults, samples } = rehearsal;
      const test = events.reduce(foldRun, NO_RUN);
      const sound = { loudness: loudnessIn(events), listening: header.engine };
      setForgotten(new Set([...forgotten, id]));
      if (test.drawn) {
        const plan = planOf(library, test.drawn);
        return go({
          name: 'test end',
          plan,
          test,
          ...sound,
          id: samples > 0 ? id : null,
          remarks: [...remarksOf(faults), ...versionRemarks(plan, test.drawn)],
          from,
        });
      }
      const skill = await skillOf(rehearsal);
      const checklist = makeChecklist(skill, library.lexicon, library.rules, header.variants);
      const state = events.reduce(fold, BEFORE);
      const remarks = remarksOf(faults);
      if (header.version !== undefined && header.version !== skill.version)
        remarks.push(
          `Its version ${header.version} of the skill is not kept: it is marked under ${skill.version}.`,
        );
      go({
        name: 'end',
        checklist,
        state,
        ...sound,
        only: header.only ? new Set(header.only) : null,
        id: samples > 0 ? id : null,
        record: id,
        remarks,
        from: { name: from },
      });
    } catch (error) {
      fail(error);
    }
  };

  const shown = (): React.JSX.Element => {
    switch (screen.name) {
      case 'start':
        return (
          <Start
            library={library}
            settings={settings}
            model={model}
            listening={listening}
            interrupted={rehearsals
              .filter(({ id, state }) => state === 'interrupted' && !forgotten.has(id))
              .slice(0, 1)}
            onSettings={saveSettings}
            onStart={start}
            onModel={() => void refresh()}
            onOpen={(id) => void open(id, 'start')}
            onGoOn={(id) => void goOnWith(id)}
            onForget={(id) => setForgotten(new Set([...forgotten, id]))}
            onGo={(name) => go({ name })}
          />
        );
      case 'sound check':
        return (
          <SoundCheck
            settings={settings}
            canRecognise={model?.installed === 'installed'}
            onSettings={saveSettings}
            onBack={() => go({ name: 'start' })}
          />
        );
      case 'past':
        return (
          <Past
            rehearsals={rehearsals}
            onOpen={(id) => void open(id, 'past')}
            onBack={() => go({ name: 'start' })}
          />
        );
      case 'skills':
        return (
          <Skills
            library={library}
            settings={settings}
            canRecognise={model?.installed === 'installed'}
            onChanged={() => void refresh()}
            onBack={() => go({ name: 'start' })}
          />
        );
      case 'listening':
        return (
          <Listening
            library={library}
            settings={settings}
            models={models}
            onSettings={saveSettings}
            onModel={() => void refresh()}
            onBack={() => go({ name: 'start' })}
          />
        );
      case 'room':
        return <Room key={screen.room.plan.checklist.skill.id} room={screen.room} />;
      case 'end': {
        const { checklist, state, only, id, record, remarks, from } = screen;
        return (
          <End
            checklist={checklist}
            lexicon={library.lexicon}
            state={state}
            loudness={screen.loudness}
            listening={screen.listening}
            only={only}
            id={id}
            record={record}
            current={library.skills.find((skill) => skill.id === checklist.skill.id)}
            remarks={remarks}
            onAgain={(some) => start(checklist.skill, checklist.variants, some)}
            onBack={() => go(from)}
            back={from.name === 'past' || from.name === 'test end' ? from.name : 'start'}
          />
        );
      }
      case 'mock test':
        return (
          <MockTest
            library={library}
            rehearsals={rehearsals}
            settings={settings}
            listening={listening}
            canRecognise={model?.installed === 'installed'}
            onStart={startTest}
            onBack={() => go({ name: 'start' })}
          />
        );
      case 'test end': {
        const { plan, test, id, remarks, from } = screen;
        const loudnessOf = ({ from, to }: SkillRun): Loudness[] =>
          loudnessWithin(screen.loudness, { from, to: to ?? Infinity });
        return (
          <TestEnd
            lexicon={library.lexicon}
            plan={plan}
            result={markTest(plan.checklists, plan.rules, test)}
            isCutOff={openSkill(test) !== null}
            remarks={remarks}
            onOpen={(skill) =>
              go({
                name: 'end',
                checklist: plan.checklists[skill]!,
                state: test.runs[skill]!.state,
                loudness: loudnessOf(test.runs[skill]!),
                listening: screen.listening,
                only: null,
                id,
                // The journal of a test holds other skills as well.
                record: null,
                remarks: [],
                from: screen,
              })
            }
            onAgain={() => startTest(plan)}
            onBack={() => go({ name: from })}
            back={from}
          />
        );
      }
    }
  };
  return (
    <>
      {trouble && (
        <Banners troubles={[trouble]}>
          <button type="button" className="button" onClick={() => setTrouble(null)}>
            Close
          </button>
        </Banners>
      )}
      {shown()}
    </>
  );
}

/** Says what stands on the screen, for who still has wet hands. Nobody listens any more, so nothing can be taken for theirs. */
function sayAloud({ voice: aloud, volume }: Settings, text: string): void {
  const nobody = (): void => undefined;
  void new Voice({ now: () => 0, onCaption: nobody, onSpoke: nobody, aloud, volume }).say(text);
}

const TITLES: Readonly<Record<Screen['name'], string>> = {
  start: 'Start',
  'sound check': 'Sound check',
  room: 'Rehearsal',
  end: 'How it went',
  past: 'Past rehearsals',
  skills: 'Skills',
  listening: 'Listening',
  'mock test': 'Mock test',
  'test end': 'How the mock test went',
};

const remarksOf = (faults: Rehearsal['faults']): string[] =>
  faults.map(({ line, message }) => `Line ${line} of its journal could not be read: ${message}`);
