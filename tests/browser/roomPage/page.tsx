import { createRoot } from 'react-dom/client';
import { flushSync } from 'react-dom';
import { z } from 'zod';
import { makeChecklist } from '../../../app/skills/checklist.ts';
import { BEFORE, fold } from '../../../app/marking/state.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import { DEFAULT_SETTINGS } from '../../../app/settings/settings.ts';
import type { Library } from '../../../app/host/api.ts';
import { api } from '../../../renderer/api.ts';
import type { RoomShown } from '../../../renderer/room/room.ts';
import { troubleOf, type TroubleKind } from '../../../renderer/room/troubles.ts';
import { Room, type RoomControl } from '../../../renderer/screens/Room.tsx';
import '../../../renderer/styles/all.css';

z.config({ jitless: true });

/** A moment of a rehearsal, as a test or the script of screens wants it shown. */
export interface Moment {
  readonly skill: string;
  readonly events?: readonly RehearsalEvent[];
  /** Seconds of the recording. */
  readonly now?: number;
  readonly phase?: RoomShown['phase'];
  readonly partial?: string;
  /** What the coach says; "card" reads the card. */
  readonly caption?: string;
  readonly troubles?: readonly TroubleKind[];
  /** Whether it is a mock test that tells nothing before its end. */
  readonly silent?: boolean;
}

export interface RoomPage {
  /** Draws the room's screen at a moment. What its buttons and keys press is kept in `pressed`. */
  show(moment: Moment): Promise<void>;
  readonly pressed: string[];
}

const root = createRoot(document.getElementById('root')!);
let library: Promise<Library> | null = null;
const pressed: string[] = [];

async function show({
  skill: id,
  events = [],
  now = 0,
  phase = 'live',
  partial = '',
  caption = '',
  troubles = [],
  silent = false,
}: Moment): Promise<void> {
  const { skills, lexicon, rules, ruleSets } = await (library ??= api.library());
  const skill = skills.find((each) => each.id === id);
  if (!skill) throw new Error(`There is no skill "${id}".`);
  const tested = { ...(ruleSets[0] ?? rules), silent: true };
  const checklist = makeChecklist(skill, lexicon, silent ? tested : rules);
  const shown: RoomShown = {
    phase,
    checklist,
    opened: 1,
    state: events.reduce(fold, BEFORE),
    now,
    partial,
    caption: caption === 'card' ? skill.card.replace(/\s+/g, ' ').trim() : caption,
    level: { rms: -28, peak: -14, clipped: 0 },
    unchecked: phase === 'ready',
    troubles: troubles.map((kind) => troubleOf(kind)),
  };
  const test = { form: 'by hand', rules: tested, seed: null, checklists: [checklist, checklist] };
  const room: RoomControl = {
    plan: {
      checklist,
      test: silent ? test : null,
      lexicon,
      settings: DEFAULT_SETTINGS,
      only: null,
      by: { trainee: null, keepsSound: true },
      past: null,
    },
    subscribe: () => () => undefined,
    snapshot: () => shown,
    press: (command) => pressed.push(command),
    pressMain: () => pressed.push('main'),
    handle: ({ ask }) => pressed.push(ask),
    moment: () => now,
  };
  flushSync(() => root.render(<Room key={`${id} ${phase}`} room={room} />));
}

Object.assign(window, { page: { show, pressed } satisfies RoomPage });
