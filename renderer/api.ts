import type { z } from 'zod';
import {
  AgreementReplySchema,
  ArchiveReplySchema,
  AttemptsReplySchema,
  CARRIED_HEADER,
  CheckedSkillSchema,
  CreatedSchema,
  DemoSchema,
  FoundSchema,
  ImportedPackSchema,
  InstallProgressSchema,
  KeptSchema,
  KeptSoundSchema,
  LatestSchema,
  LEFT_OUT_HEADER,
  LibrarySchema,
  ListedSkillsSchema,
  ModelsSchema,
  NewSessionSchema,
  NewWriterSchema,
  PeopleSchema,
  ProblemSchema,
  ReadingsReplySchema,
  RehearsalSchema,
  SavedSkillSchema,
  SettingsSchema,
  SkillSourceSchema,
  SkillVersionsSchema,
  TakenInSchema,
  TraineeSchema,
  WRITER_HEADER,
  type AgreementReply,
  type AttemptsReply,
  type CheckedSkill,
  type ClassAsked,
  type CopyFirst,
  type Decision,
  type Demo,
  type Finding,
  type Found,
  type ImportedPack,
  type InstallProgress,
  type Latest,
  type Library,
  type ListedSkill,
  type ModelStanding,
  type NewRehearsal,
  type NewTrainee,
  type People,
  type ReadingsReply,
  type Rehearsal,
  type ReportFormat,
  type SendingStanding,
  type Settings,
  type TakenIn,
  type Trainee,
} from '../app/host/api.ts';
import type { ReadingTaken } from '../app/bench/readings/taken.ts';
import type { RehearsalEvent, ReviewEvent } from '../app/marking/events.ts';
import type { Fault } from '../app/faults/faults.ts';
import type { Skill } from '../app/skills/skill.ts';
import { right, takeSession } from './people/right.ts';
import { SkillPackSchema, type SkillPack } from '../app/authoring/skillPack.ts';

/** The host did not answer, or refused; the message says what and what to do. */
export class HostFailed extends Error {
  override readonly name = 'HostFailed';
  /**
   * @param faults what is wrong with a skill file or pack that was not taken
   * @param conflict another window writes the rehearsal, or it has other content there: sending again is no use
   */
  constructor(
    message: string,
    readonly faults: readonly Fault[] = [],
    readonly conflict = false,
  ) {
    super(message);
  }
}

const GONE =
  'The program behind this page does not answer. Start it again (npx sinkside room); nothing heard so far is lost.';

async function ask<S extends z.ZodType>(
  schema: S,
  path: string,
  init: RequestInit = {},
): Promise<z.output<S>> {
  const response = await reach(path, init);
  const answer = schema.safeParse(await response.json());
  if (!answer.success)
    throw new HostFailed(`${path} answered what this page does not know: ${answer.error.message}`);
  return answer.data;
}

async function reach(path: string, init: RequestInit = {}): Promise<Response> {
  const headers = { ...right(), ...init.headers };
  const response = await fetch(path, { ...init, headers }).catch(() => {
    throw new HostFailed(GONE);
  });
  if (response.ok) return response;
  throw refusal(path, response.status, await response.json().catch(() => null));
}

/** What a refused request says. */
function refusal(path: string, status: number, reply: unknown): HostFailed {
  const problem = ProblemSchema.safeParse(reply);
  if (!problem.success) return new HostFailed(`${path} was refused (${status}).`);
  const { error, advice, faults, conflict } = problem.data;
  return new HostFailed(`${error} ${advice}`, faults, conflict);
}

/** Asks for something that answers nothing. */
const tell = async (path: string, init: RequestInit): Promise<void> => void (await reach(path, init));

const json = (method: 'POST' | 'PUT', body: unknown): RequestInit => ({
  method,
  headers: { 'content-type': 'application/json' },
  body: JSON.stringify(body),
});

/** The tokens of the rehearsals that this page writes. */
const writers = new Map<string, string>();

/** Asks for something that the writer of a rehearsal may do. One that this page did not begin is taken over first. */
async function asWriter(id: string, init: RequestInit): Promise<RequestInit> {
  if (!writers.has(id)) await api.takeOver(id);
  return { ...init, headers: { ...init.headers, [WRITER_HEADER]: writers.get(id) ?? '' } };
}

/** Begins a rehearsal by a request that does so, and writes it from then on. */
async function begin(path: string, body: unknown): Promise<string> {
  const { id, writer } = await ask(CreatedSchema, path, json('POST', body));
  writers.set(id, writer);
  return id;
}

/** Rehearsals in one file. */
export interface Bundle {
  readonly name: string;
  readonly blob: Blob;
  /** How many rehearsals are in it, and how many had to be left out. */
  readonly carried: number;
  readonly leftOut: number;
}

/** The host's API. Every function throws {@link HostFailed}. */
export const api = {
  library: (): Promise<Library> => ask(LibrarySchema, '/api/library'),
  models: (): Promise<ModelStanding[]> => ask(ModelsSchema, '/api/models'),
  demo: (): Promise<Demo> => ask(DemoSchema, '/api/demo'),
  /** The recording of the built-in narration: mono samples at 16 kHz, −1…1. */
  demoSound: async (): Promise<Float32Array> => {
    const sound = new DataView(await (await reach('/api/demo/sound')).arrayBuffer());
    return Float32Array.from({ length: sound.byteLength / 2 }, (_, i) => sound.getInt16(2 * i, true) / 32768);
  },
  settings: (): Promise<Settings> => ask(SettingsSchema, '/api/settings'),
  saveSettings: (settings: Settings): Promise<Settings> =>
    ask(SettingsSchema, '/api/settings', json('PUT', settings)),
  latest: (): Promise<Latest> => ask(LatestSchema, '/api/rehearsals/latest'),
  found: (finding: Finding): Promise<Found> => {
    const asked = Object.entries(finding).flatMap(([name, value]) =>
      value === null || value === undefined ? [] : [[name, String(value)]],
    );
    return ask(FoundSchema, `/api/rehearsals/found?${new URLSearchParams(asked).toString()}`);
  },
  rehearsal: (id: string): Promise<Rehearsal> => ask(RehearsalSchema, `/api/rehearsals/${id}`),
  create: (rehearsal: NewRehearsal): Promise<string> => begin('/api/rehearsals', rehearsal),
  /** Goes on with a rehearsal in this page: whatever else was writing it can write it no more. */
  takeOver: async (id: string): Promise<void> => {
    const { writer } = await ask(NewWriterSchema, `/api/rehearsals/${id}/writer`, { method: 'POST' });
    writers.set(id, writer);
  },
  /** Begins a rehearsal of its own with the first so many events and samples of another; gives its id. */
  copyFirst: (id: string, first: CopyFirst): Promise<string> => begin(`/api/rehearsals/${id}/copy`, first),
  /** Deletes all of a rehearsal: journal and sound. Refused (`conflict`) while another window is rehearsing it. */
  deleteRehearsal: async (id: string): Promise<void> => {
    const headers = { [WRITER_HEADER]: writers.get(id) ?? '' };
    await reach(`/api/rehearsals/${id}`, { method: 'DELETE', headers });
    writers.delete(id);
  },
  sendEvents: async (id: string, from: number, events: readonly RehearsalEvent[]): Promise<void> => {
    const init = await asWriter(id, json('POST', { from, events }));
    await ask(KeptSchema, `/api/rehearsals/${id}/events`, init);
  },
  addReview: async (id: string, events: readonly ReviewEvent[]): Promise<void> => {
    await ask(KeptSchema, `/api/rehearsals/${id}/review`, json('POST', { events }));
  },
  /** The attempts at a whole skill, the newest first. */
  attempts: (skill: string): Promise<AttemptsReply> =>
    ask(AttemptsReplySchema, `/api/attempts/${encodeURIComponent(skill)}`),
  /** A report, of an address that {@link reportOf} or {@link classReportOf} gives. */
  report: async (address: string): Promise<Blob> => (await reach(address)).blob(),
  /** Readings with their truth, of all who may be seen. */
  readings: (): Promise<ReadingsReply> => ask(ReadingsReplySchema, '/api/readings'),
  /** Keeps what was read at the bench with the person chosen. */
  keepReadings: (readings: readonly ReadingTaken[]): Promise<void> =>
    tell('/api/readings', json('POST', { readings })),
  agreement: (): Promise<AgreementReply> => ask(AgreementReplySchema, '/api/agreement'),
  sendSound: async (id: string, from: number, samples: Int16Array<ArrayBuffer>): Promise<void> => {
    const headers = { 'content-type': 'application/octet-stream' };
    const init = await asWriter(id, { method: 'POST', headers, body: samples });
    await ask(KeptSoundSchema, `/api/rehearsals/${id}/sound?from=${from}`, init);
  },
  /** Address of a rehearsal's sound. What plays it sends no headers of ours. */
  soundOf: (id: string): string => {
    const query = new URLSearchParams(right()).toString();
    return `/api/rehearsals/${id}/sound${query && `?${query}`}`;
  },
  /** The rehearsals of a class since a moment as one file; of everybody without a class, of all time without a moment. */
  async bundle(
    wanted: { readonly class: string | null; readonly since: string },
    onProgress: (share: number) => void,
  ): Promise<Bundle> {
    const query = new URLSearchParams({ since: wanted.since });
    if (wanted.class !== null) query.set('class', wanted.class);
    const response = await reach(`/api/bundle?${query}`);
    const header = (name: string): string => response.headers.get(name) ?? '';
    const [, name = ''] = /filename="([^"]*)"/.exec(header('content-disposition')) ?? [];
    const size = Number(header('content-length'));
    let come = 0;
    const counting = new TransformStream<Uint8Array<ArrayBuffer>, Uint8Array<ArrayBuffer>>({
      transform: (piece, out) => {
        onProgress((come += piece.length) / size);
        out.enqueue(piece);
      },
    });
    // The browser keeps what is large on disk. The host answers this with a body.
    const blob = await new Response(response.body!.pipeThrough(counting)).blob().catch(() => {
      throw new HostFailed(GONE);
    });
    if (blob.size !== size) throw new HostFailed(GONE);
    const [carried, leftOut] = [CARRIED_HEADER, LEFT_OUT_HEADER].map((each) => Number(header(each)));
    return { name, blob, carried: carried ?? 0, leftOut: leftOut ?? 0 };
  },
  /** Takes in a file of rehearsals, all of it or nothing; it is checked once all has come. */
  takeInBundle(file: File, onProgress: (share: number) => void): Promise<TakenIn> {
    const path = '/api/bundles';
    // Unlike `fetch` it tells how much was sent.
    const request = new XMLHttpRequest();
    return new Promise((done, failed) => {
      request.upload.onprogress = ({ loaded, total }) => onProgress(loaded / total);
      request.onerror = () => failed(new HostFailed(GONE));
      request.onload = () => {
        const reply = TakenInSchema.safeParse(request.response);
        if (request.status === 200 && reply.success) done(reply.data);
        else failed(refusal(path, request.status, request.response));
      };
      request.open('POST', path);
      request.responseType = 'json';
      for (const [name, value] of Object.entries(right())) request.setRequestHeader(name, value);
      request.setRequestHeader('content-type', 'application/zip');
      request.send(file);
    });
  },
  modelFile: async (id: string, file: string): Promise<Uint8Array<ArrayBuffer>> =>
    new Uint8Array(await (await reach(`/models/${id}/${file}`)).arrayBuffer()),

  people: (): Promise<People> => ask(PeopleSchema, '/api/people'),
  addTrainee: (entered: NewTrainee): Promise<Trainee> =>
    ask(TraineeSchema, '/api/people', json('POST', entered)),
  renameTrainee: (id: string, entered: NewTrainee): Promise<void> =>
    tell(`/api/people/${id}`, json('PUT', entered)),
  /** Deletes a person with all rehearsals. Refused (`conflict`) while they are rehearsing. */
  deleteTrainee: (id: string): Promise<void> => tell(`/api/people/${id}`, { method: 'DELETE' }),
  /** Keeps whether a trainee agrees that sound is kept, and where that was asked, sent to the school's archive. */
  decide: (id: string, decision: Decision): Promise<void> =>
    tell(`/api/people/${id}/consent`, json('PUT', decision)),
  keepFor: (keptDays: number | null): Promise<void> => tell('/api/people/keeping', json('PUT', { keptDays })),
  /** What was deleted for its age was told. */
  told: (): Promise<void> => tell('/api/people/told', { method: 'POST' }),
  /** Enters the instructor's area: from then on this page may do what the instructor may. */
  enter: async (passphrase: string): Promise<void> =>
    takeSession((await ask(NewSessionSchema, '/api/instructor/enter', json('POST', { passphrase }))).token),
  leave: async (): Promise<void> => {
    await tell('/api/instructor/leave', { method: 'POST' });
    takeSession('');
  },
  setPassphrase: async (passphrase: string): Promise<void> =>
    takeSession(
      (await ask(NewSessionSchema, '/api/instructor/passphrase', json('PUT', { passphrase }))).token,
    ),
  removePassphrase: async (): Promise<void> => {
    await tell('/api/instructor/passphrase', { method: 'DELETE' });
    takeSession('');
  },

  /** How sending to the school's archive stands; null while none is set. */
  sending: (): Promise<SendingStanding | null> => ask(ArchiveReplySchema, '/api/archive'),
  enrolStation: (address: string, code: string): Promise<void> =>
    tell('/api/archive/enrol', json('POST', { address, code })),
  turnSending: (isOn: boolean): Promise<void> => tell('/api/archive/sending', json('PUT', { isOn })),
  sendNow: (): Promise<void> => tell('/api/archive/now', { method: 'POST' }),
  leaveArchive: (): Promise<void> => tell('/api/archive', { method: 'DELETE' }),

  skills: (): Promise<ListedSkill[]> => ask(ListedSkillsSchema, '/api/skills'),
  skillSource: async (id: string): Promise<string> =>
    (await ask(SkillSourceSchema, `/api/skills/${id}/source`)).source,
  /** The earlier versions of a skill that are kept, the newest first. */
  skillVersions: (id: string): Promise<Skill[]> => ask(SkillVersionsSchema, `/api/skills/${id}/versions`),
  skillVersionSource: async (id: string, version: number): Promise<string> =>
    (await ask(SkillSourceSchema, `/api/skills/${id}/versions/${version}`)).source,
  /** Saves a skill and gives its version. `fresh`: it must not be there yet. */
  saveSkill: async (id: string, source: string, fresh: boolean): Promise<number> =>
    (await ask(SavedSkillSchema, `/api/skills/${encodeURIComponent(id)}`, json('PUT', { source, fresh })))
      .version,
  checkSkill: (source: string, phrase: string): Promise<CheckedSkill> =>
    ask(CheckedSkillSchema, '/api/skills/check', json('POST', { source, phrase })),
  exportSkills: (ids: readonly string[]): Promise<SkillPack> =>
    ask(SkillPackSchema, '/api/skills/export', json('POST', { ids })),
  importSkills: (pack: string, replace: boolean): Promise<ImportedPack> =>
    ask(ImportedPackSchema, '/api/skills/import', json('POST', { pack, replace })),

  /** Has the host get a model and tells how it goes. Resolves at the end of the stream; its last message says how. */
  async getModel(id: string, onProgress: (progress: InstallProgress) => void): Promise<void> {
    const response = await reach(`/api/models/${id}/get`, { method: 'POST' });
    // The host answers this with a stream.
    const reader = response.body!.pipeThrough(new TextDecoderStream()).getReader();
    let rest = '';
    for (;;) {
      const { done, value } = await reader.read().catch(() => {
        throw new HostFailed(GONE);
      });
      if (done) return;
      const messages = (rest + value).split('\n\n');
      rest = messages.pop() ?? '';
      for (const message of messages) {
        const progress = readMessage(message);
        if (progress) onProgress(progress);
      }
    }
  },
};

/** Address of a rehearsal's report. */
export const reportOf =
  (id: string) =>
  (format: ReportFormat): string =>
    `/api/rehearsals/${id}/report.${format}`;

/** Address of a class's report. */
export const classReportOf =
  ({ class: ofClass, skills = [], from, to }: ClassAsked) =>
  (format: ReportFormat): string => {
    const asked = Object.entries({ class: ofClass, from, to }).flatMap(([name, value]) =>
      value === undefined ? [] : [[name, value]],
    );
    const query = new URLSearchParams([...asked, ...skills.map((skill) => ['skill', skill])]);
    return `/api/class/report.${format}?${query}`;
  };

/** A message of an event stream (its `data:` lines, as the HTML standard has it); null for comments. */
export function readMessage(message: string): InstallProgress | null {
  const data = message
    .split(/\r?\n/)
    .filter((line) => line.startsWith('data:'))
    .map((line) => line.slice(5).trim())
    .join('\n');
  if (data === '') return null;
  const progress = InstallProgressSchema.safeParse(JSON.parse(data));
  return progress.success ? progress.data : null;
}
