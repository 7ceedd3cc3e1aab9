import { mkdir, mkdtemp, readdir, rename, rm, stat } from 'node:fs/promises';
import path from 'node:path';
import type { Assessment } from '../marking/assessment.ts';
import { makeChecklist, UnknownVariant, type Checklist } from '../skills/checklist.ts';
import type { Drawn, RehearsalEvent } from '../marking/events.ts';
import { markRehearsal } from '../marking/result.ts';
import { BEFORE, fold } from '../marking/state.ts';
import { planOf, type MakeChecklist } from '../run/testPlan.ts';
import { CannotDraw, type PastResult } from '../skills/draw.ts';
import { describeFault } from '../faults/faults.ts';
import { markTest } from '../run/mockTest.ts';
import { foldRun, NO_RUN } from '../run/runState.ts';
import { RehearsalIdSchema, type Header, type NewRehearsal } from './header.ts';
import { appendEvents, headerLine, readJournal, type Journal } from './journal.ts';
import { shelfOf, skillAt, type Library } from '../library/library.ts';
import { appendSound, samplesIn, SOUND_RATE, wavHeader } from './soundTrack.ts';
import { flushFolder, writeFlushed } from '../disk/wholeFile.ts';

/** There is no rehearsal of that id. */
export class UnknownRehearsal extends Error {
  override readonly name = 'UnknownRehearsal';
  constructor(id: string) {
    super(`There is no rehearsal "${id}".`);
  }
}

/** A rehearsal as it is kept; its header is never missing, for what the journal lost is taken from the folder's name. */
export interface Kept extends Journal {
  readonly header: Header;
  /** Samples of sound there are, 16 000 a second. */
  readonly samples: number;
}

/** A rehearsal at a glance. */
export interface Summary extends Readonly<Omit<Assessment['result'], 'passed'>> {
  /** Null where there is no such verdict: a part of a skill is never a pass, and what is not marked neither. */
  readonly passed: boolean | null;
  readonly id: string;
  readonly skill: string;
  readonly title: string;
  /** The version of the skill it is marked under; null where it is not marked. */
  readonly version: number | null;
  readonly startedAt: string;
  /** Length of the recording. */
  readonly seconds: number;
  readonly state: 'ended' | 'interrupted';
  /** What is wrong with it, in words; empty when all is well. */
  readonly note: string;
  /** How each skill of it went: one, or those of a mock test that were reached. Empty where it could not be marked. */
  readonly skills: readonly PastResult[];
}

/** The rehearsals in a data folder: one folder each, with a journal and its sound. */
export class Rehearsals {
  private readonly root: string;
  /** Writes in progress, one after the other to each file. */
  private readonly writing = new Map<string, Promise<unknown>>();
  private readonly checklists = new Map<string, Checklist>();

  constructor(
    data: string,
    private readonly library: Library,
  ) {
    this.root = path.join(data, 'rehearsals');
  }

  /**
   * Begins a rehearsal and gives its id. Its folder appears whole or not at all.
   *
   * @throws {UnknownVariant} the library has no such skill, or the skill no such variant
   */
  async create(begun: NewRehearsal): Promise<string> {
    this.checklistOf(begun.skill, begun.variants);
    await mkdir(this.root, { recursive: true });
    const fresh = await mkdtemp(path.join(this.root, '.new-'));
    try {
      await writeFlushed(path.join(fresh, 'journal.jsonl'), headerLine({ schema: 1, ...begun }), 'wx');
      await writeFlushed(path.join(fresh, 'sound.wav'), wavHeader(0), 'wx');
      await flushFolder(fresh);
      const second = new Date(begun.startedAt).toISOString().replace(/[-:]|\.\d+/g, '');
      const base = `${second}-${begun.skill}`;
      let id = base;
      for (let n = 2; await exists(path.join(this.root, id)); n++) id = `${base}-${n}`;
      await rename(fresh, path.join(this.root, id));
      await flushFolder(this.root);
      return id;
    } catch (error) {
      await rm(fresh, { recursive: true, force: true }).catch(() => undefined);
      throw error;
    }
  }

  /**
   * Adds events, as {@link appendEvents} does.
   *
   * @throws {UnknownRehearsal}
   */
  async addEvents(id: string, from: number, events: readonly RehearsalEvent[]): Promise<number> {
    return this.inTurn(`${id}/events`, async () =>
      appendEvents(path.join(await this.folderOf(id), 'journal.jsonl'), from, events),
    );
  }

  /**
   * Adds sound, as {@link appendSound} does.
   *
   * @throws {UnknownRehearsal}
   */
  async addSound(id: string, from: number, sound: Uint8Array): Promise<number> {
    return this.inTurn(`${id}/sound`, async () =>
      appendSound(path.join(await this.folderOf(id), 'sound.wav'), from, sound),
    );
  }

  /** Reads a rehearsal back, as far as it can be read. Throws {@link UnknownRehearsal}. */
  async read(id: string): Promise<Kept> {
    const folder = await this.folderOf(id);
    const journal = await readJournal(path.join(folder, 'journal.jsonl'));
    const samples = samplesIn((await stat(path.join(folder, 'sound.wav')).catch(noFile))?.size ?? 0);
    return { ...journal, header: journal.header ?? headerFromName(id, journal.events), samples };
  }

  /** The WAV file of a rehearsal's sound and the bytes of samples in it. Throws {@link UnknownRehearsal}. */
  async sound(id: string): Promise<{ file: string; dataBytes: number }> {
    const file = path.join(await this.folderOf(id), 'sound.wav');
    return { file, dataBytes: 2 * samplesIn((await stat(file).catch(noFile))?.size ?? 0) };
  }

  /** All rehearsals, the newest first. */
  async list(): Promise<Summary[]> {
    const names = await readdir(this.root).catch((error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT') return [];
      throw error;
    });
    const ids = names
      .filter((name) => RehearsalIdSchema.safeParse(name).success)
      .sort()
      .reverse();
    const summaries: Summary[] = [];
    for (const id of ids) {
      const kept = await this.read(id).catch((error: unknown) => {
        // Taken away by hand since the folder was read, or never a rehearsal.
        if (error instanceof UnknownRehearsal) return null;
        throw error;
      });
      if (kept) summaries.push(this.summarise(id, kept));
    }
    return summaries;
  }

  /** Waits until what is being written is on disk. */
  async settled(): Promise<void> {
    await Promise.allSettled(this.writing.values());
  }

  private summarise(id: string, { header, events, faults, samples }: Kept): Summary {
    const { skill, version, variants, only, startedAt } = header;
    const state = events.reduce(fold, BEFORE);
    const notes = faults.map(describeFault);
    const common = {
      id,
      skill,
      title: this.library.skills.get(skill)?.title ?? skill,
      version: null,
      startedAt,
      seconds: state.ended ?? samples / SOUND_RATE,
      state: state.ended === null ? ('interrupted' as const) : ('ended' as const),
    };
    try {
      const drawn = events.find((event) => event.type === 'drawn');
      if (drawn) return { ...common, ...this.summariseTest(events, drawn), note: notes.join('\n') };
      const checklist = this.checklistOf(skill, variants, version);
      const marked = { ...common, version: checklist.skill.version };
      if (version !== undefined && marked.version !== version)
        notes.push(`Its version ${version} is not kept: marked under version ${marked.version}.`);
      if (state.breaks.length > 0) notes.push(`Broken off and gone on with ${times(state.breaks.length)}.`);
      if (!only) {
        const { result } = markRehearsal(checklist, state);
        return { ...marked, ...result, note: notes.join('\n'), skills: [{ skill, ...result }] };
      }
      const steps = checklist.steps.filter((step) => only.includes(step.id));
      const { result } = markRehearsal({ ...checklist, steps }, state);
      notes.push(`Only ${steps.length} of ${checklist.steps.length} steps were rehearsed.`);
      return { ...marked, ...result, passed: null, note: notes.join('\n'), skills: [] };
    } catch (error) {
      if (!(error instanceof UnknownVariant) && !(error instanceof CannotDraw)) throw error;
      const note = [...notes, `Not marked: ${error.message}`].join('\n');
      return { ...common, passed: null, heard: 0, of: 0, criticalMissed: [], note, skills: [] };
    }
  }

  /** Throws {@link CannotDraw} where its skills or rules are no longer there. */
  private summariseTest(
    events: readonly RehearsalEvent[],
    drawn: Drawn,
  ): Omit<Summary, 'id' | 'skill' | 'version' | 'startedAt' | 'seconds' | 'state' | 'note'> {
    const plan = planOf(shelfOf(this.library), drawn, this.made);
    const { passed, skills } = markTest(plan.checklists, plan.rules, events.reduce(foldRun, NO_RUN));
    const form = this.library.forms.get(drawn.form)?.title ?? `picked ${drawn.form}`;
    const sum = (numbers: readonly number[]): number => numbers.reduce((all, n) => all + n, 0);
    return {
      title: `Mock test: ${form}`,
      passed,
      heard: sum(skills.map(({ result }) => result.heard)),
      of: sum(skills.map(({ result }) => result.of)),
      criticalMissed: skills.flatMap(({ skill, result }) =>
        result.criticalMissed.map((id) => `${skill}: ${id}`),
      ),
      skills: skills.filter(({ reached }) => reached).map(({ skill, result }) => ({ skill, ...result })),
    };
  }

  /** Throws {@link UnknownVariant} also when there is no such skill. */
  private checklistOf(id: string, variants: Readonly<Record<string, string>>, version?: number): Checklist {
    const { skills, lexicon, rules, folder } = this.library;
    const skill = skillAt(this.library, id, version);
    if (!skill) {
      throw new UnknownVariant(
        `There is no skill "${id}" in ${folder}; there is: ${[...skills.keys()].join(', ')}.`,
      );
    }
    return this.made(skill, lexicon, rules, variants);
  }

  /** A checklist, made once for all rehearsals of it. */
  private readonly made: MakeChecklist = (skill, lexicon, rules, variants = {}) => {
    const key = JSON.stringify([skill.id, skill.version, rules.id, variants]);
    const known = this.checklists.get(key);
    // A library that was read again has other skills under the same names.
    if (known?.skill === skill) return known;
    const checklist = makeChecklist(skill, lexicon, rules, variants);
    this.checklists.set(key, checklist);
    return checklist;
  };

  private async folderOf(id: string): Promise<string> {
    const folder = path.join(this.root, id);
    if (!RehearsalIdSchema.safeParse(id).success || !(await exists(path.join(folder, 'journal.jsonl'))))
      throw new UnknownRehearsal(id);
    return folder;
  }

  private inTurn<T>(key: string, write: () => Promise<T>): Promise<T> {
    const turn = (this.writing.get(key) ?? Promise.resolve()).then(write, write);
    this.writing.set(key, turn);
    const leave = (): void => {
      if (this.writing.get(key) === turn) this.writing.delete(key);
    };
    turn.then(leave, leave);
    return turn;
  }
}

/** What the name of a folder and the first event still tell when the header is lost. */
function headerFromName(id: string, events: readonly RehearsalEvent[]): Header {
  const [, date, time, name] = /^(\d{8})T(\d{6})Z-(.*?)(?:-\d+)?$/.exec(id)!;
  const began = events.find((event) => event.type === 'began');
  const iso = `${date!.replace(/(....)(..)(..)/, '$1-$2-$3')}T${time!.replace(/(..)(..)(..)/, '$1:$2:$3')}Z`;
  return {
    schema: 1,
    skill: began?.skill ?? name!,
    variants: { ...began?.variants },
    style: 'coach',
    engine: 'unknown',
    startedAt: iso,
  };
}

const times = (n: number): string => (n === 1 ? 'once' : `${n} times`);

async function exists(file: string): Promise<boolean> {
  return (await stat(file).catch(noFile)) !== null;
}

function noFile(error: NodeJS.ErrnoException): null {
  if (error.code === 'ENOENT' || error.code === 'ENOTDIR') return null;
  throw error;
}
