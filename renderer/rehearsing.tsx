import { createContext, useContext, useEffect, useMemo, useRef, useState } from 'react';
import { flushSync } from 'react-dom';
import { useLocation } from 'wouter';
import type { DesktopBridge } from '../app/host/api.ts';
import { markRehearsal } from '../app/marking/result.ts';
import { sayResult } from '../app/run/coach.ts';
import { planOf, type TestPlan } from '../app/run/testPlan.ts';
import { chooseVariants, makeChecklist } from '../app/skills/checklist.ts';
import type { Skill } from '../app/skills/skill.ts';
import { ADDRESS } from './addresses.ts';
import { api } from './api.ts';
import { skillOf, type Outcome } from './kept.ts';
import { useKnown, type Known } from './known.tsx';
import { ConsentDialog, type ConsentAsked } from './people/ConsentDialog.tsx';
import { goesOnAs, lengthOf, rehearserOf, type AskConsent } from './people/rehearser.ts';
import type { Rehearser } from './record/record.ts';
import type { Ended, PastRehearsal, Plan, Room } from './room/room.ts';

declare global {
  interface Window {
    /** Present in the desktop program only. */
    readonly sinkside?: DesktopBridge;
  }
}

/** Starting rehearsals, and the one that is going on or was ended last in this window. */
export interface Rehearsing {
  readonly room: Room | null;
  /** As it was heard: its record may still be on its way to the disk. */
  readonly ended: Outcome | null;
  readonly start: (
    skill: Skill,
    variants: Readonly<Record<string, string>>,
    only?: ReadonlySet<string> | null,
  ) => void;
  readonly startTest: (test: TestPlan) => void;
  /** Goes on with a rehearsal that was cut off. */
  readonly goOn: (id: string) => void;
  /** Gives up a room that was left by the back button: what was heard is kept, as of a rehearsal that was cut off. */
  readonly abandon: (room: Room) => void;
}

const RehearsingContext = createContext<Rehearsing | null>(null);

/** Only below a {@link RehearsingProvider}. */
export function useRehearsing(): Rehearsing {
  const rehearsing = useContext(RehearsingContext);
  if (!rehearsing) throw new Error('useRehearsing needs a RehearsingProvider above it.');
  return rehearsing;
}

export function RehearsingProvider({ children }: { readonly children: React.ReactNode }) {
  const known = useKnown();
  const [, navigate] = useLocation();
  const [room, setRoom] = useState<Room | null>(null);
  const [ended, setEnded] = useState<Outcome | null>(null);
  const [asked, ask] = useState<ConsentAsked | null>(null);
  /** The room that is open now, for what happens between two drawings. */
  const open = useRef<Room | null>(null);
  // A room outlives what was known when it was opened.
  const latest = useRef(known);
  useEffect(() => {
    latest.current = known;
  });
  useEffect(() => window.sinkside?.onClosing(async () => open.current?.flush()), []);

  const rehearsing = useMemo(() => {
    const enter = async (plan: Plan): Promise<void> => {
      const { Room } = await import('./room/room.ts');
      const opened = new Room(plan, (how) => leave(opened, how));
      open.current = opened;
      // The address is looked at at once: the room must be there by then.
      flushSync(() => setRoom(opened));
      navigate(ADDRESS.room);
    };
    const leave = (from: Room, how: Ended): void => {
      const { settings, library, refresh } = latest.current;
      void from.close().then(refresh);
      const next = how.by === 'next skill' && !from.plan.test && how.state ? skillAfter(from, library) : null;
      if (next) return starters.start(next, chooseVariants(next, {}));
      open.current = null;
      const outcome = outcomeOf(from.plan, how);
      if (outcome) flushSync(() => setEnded(outcome));
      // In the place of the room: the way back leads to where it was started.
      navigate(outcome ? ADDRESS.rehearsal(outcome.id) : ADDRESS.home, { replace: true });
      setRoom(null);
      if (outcome?.of === 'skill') {
        const { checklist, state } = outcome;
        void sayAloud(settings, sayResult(checklist, markRehearsal(checklist, state)));
      }
    };
    const askConsent: AskConsent = (trainee, told) =>
      new Promise((done) =>
        ask({
          trainee,
          ...told,
          onAnswer: (agreed) => {
            ask(null);
            done(agreed);
            if (agreed !== null) void latest.current.refresh();
          },
        }),
      );
    const starters = startersOf(latest, enter, askConsent);
    return {
      ...starters,
      abandon: (left: Room) => {
        if (open.current !== left) return;
        open.current = null;
        setRoom(null);
        void left.close().then(latest.current.refresh);
      },
    };
  }, [navigate]);

  return (
    <RehearsingContext value={{ ...rehearsing, room, ended }}>
      {children}
      {asked && <ConsentDialog asked={asked} />}
    </RehearsingContext>
  );
}

/** The ways into a room. */
function startersOf(
  latest: { readonly current: Known },
  enter: (plan: Plan) => Promise<void>,
  askConsent: AskConsent,
): Pick<Rehearsing, 'start' | 'startTest' | 'goOn'> {
  const begin = (
    skill: Skill,
    variants: Readonly<Record<string, string>>,
    only: ReadonlySet<string> | null,
    by: Rehearser,
    past: PastRehearsal | null,
  ): Promise<void> => {
    const { library, settings, saveSettings } = latest.current;
    const { lexicon, rules } = library;
    const next = { ...settings, skill: skill.id, variants: { ...variants } };
    saveSettings(next);
    const checklist = makeChecklist(skill, lexicon, rules, variants);
    return enter({ checklist, test: null, lexicon, settings: next, only, by, past });
  };
  const beginTest = (test: TestPlan, by: Rehearser, past: PastRehearsal | null): Promise<void> => {
    const { library, settings } = latest.current;
    return enter({
      // A plan without skills is never made.
      checklist: test.checklists[0]!,
      test,
      lexicon: library.lexicon,
      settings: { ...settings, style: test.rules.silent ? 'silent' : settings.style },
      only: null,
      by,
      past,
    });
  };
  const goOn = async (id: string): Promise<void> => {
    const { library } = latest.current;
    const rehearsal = await api.rehearsal(id);
    const { header, events, kept } = rehearsal;
    const by = goesOnAs(header, latest.current.people);
    const past = { id, events, kept, samples: lengthOf(rehearsal) };
    const drawn = events.find((event) => event.type === 'drawn');
    if (drawn) return beginTest(planOf(library, drawn), by, past);
    const only = header.only ? new Set(header.only) : null;
    return begin(await skillOf(rehearsal, library), header.variants, only, by, past);
  };
  /** Begins as who is chosen, who is asked first whether sound may be kept, and begins nothing where no answer is given. */
  const asOne = async (start: (by: Rehearser) => Promise<void>): Promise<void> => {
    const by = await rehearserOf(latest.current.people, askConsent);
    if (by) await start(by);
  };
  const orFail = (work: Promise<void>): void =>
    void work.catch((error: unknown) => latest.current.fail(error));
  return {
    start: (skill, variants, only = null) => orFail(asOne((by) => begin(skill, variants, only, by, null))),
    startTest: (test) => orFail(asOne((by) => beginTest(test, by, null))),
    goOn: (id) => orFail(goOn(id)),
  };
}

const skillAfter = ({ plan }: Room, { skills }: Known['library']): Skill | undefined =>
  skills[skills.findIndex(({ id }) => id === plan.checklist.skill.id) + 1];

/** What a rehearsal came to; null where it was left before anything was heard. */
function outcomeOf(
  { checklist, only, test: plan, by }: Plan,
  { state, test, id, loudness, listening }: Ended,
): Outcome | null {
  if (state === null) return null;
  const common = { id, hasSound: id !== null && by.keepsSound, loudness, listening, remarks: [] };
  return plan && test
    ? { ...common, of: 'test', plan, test }
    : { ...common, of: 'skill', checklist, state, only };
}

/** Says what stands on the screen, for who still has wet hands. Nobody listens any more, so nothing can be taken for theirs. */
async function sayAloud({ voice: aloud, volume }: Known['settings'], text: string): Promise<void> {
  const { Voice } = await import('./room/voice.ts');
  const nobody = (): void => undefined;
  await new Voice({ now: () => 0, onCaption: nobody, onSpoke: nobody, aloud, volume }).say(text);
}
