import type { z } from 'zod';
import {
  CreatedSchema,
  InstallProgressSchema,
  KeptSchema,
  KeptSoundSchema,
  LibrarySchema,
  ModelsSchema,
  ProblemSchema,
  RehearsalSchema,
  RehearsalsSchema,
  SettingsSchema,
  type InstallProgress,
  type Library,
  type ModelStanding,
  type NewRehearsal,
  type Rehearsal,
  type RehearsalSummary,
  type Settings,
} from '../app/host/api.ts';
import type { RehearsalEvent } from '../app/rehearsal/events.ts';

/** The host did not answer, or refused; the message says what and what to do. */
export class HostFailed extends Error {
  override readonly name = 'HostFailed';
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
  const response = await fetch(path, init).catch(() => {
    throw new HostFailed(GONE);
  });
  if (response.ok) return response;
  const problem = ProblemSchema.safeParse(await response.json().catch(() => null));
  throw new HostFailed(
    problem.success
      ? `${problem.data.error} ${problem.data.advice}`
      : `${path} was refused (${response.status}).`,
  );
}

const json = (method: 'POST' | 'PUT', body: unknown): RequestInit => ({
  method,
  headers: { 'content-type': 'application/json' },
  body: JSON.stringify(body),
});

/** The host's API. Every function throws {@link HostFailed}. */
export const api = {
  library: (): Promise<Library> => ask(LibrarySchema, '/api/library'),
  models: (): Promise<ModelStanding[]> => ask(ModelsSchema, '/api/models'),
  settings: (): Promise<Settings> => ask(SettingsSchema, '/api/settings'),
  saveSettings: (settings: Settings): Promise<Settings> =>
    ask(SettingsSchema, '/api/settings', json('PUT', settings)),
  rehearsals: (): Promise<RehearsalSummary[]> => ask(RehearsalsSchema, '/api/rehearsals'),
  rehearsal: (id: string): Promise<Rehearsal> => ask(RehearsalSchema, `/api/rehearsals/${id}`),
  create: async (rehearsal: NewRehearsal): Promise<string> =>
    (await ask(CreatedSchema, '/api/rehearsals', json('POST', rehearsal))).id,
  sendEvents: async (id: string, from: number, events: readonly RehearsalEvent[]): Promise<void> => {
    await ask(KeptSchema, `/api/rehearsals/${id}/events`, json('POST', { from, events }));
  },
  sendSound: async (id: string, from: number, samples: Int16Array<ArrayBuffer>): Promise<void> => {
    await ask(KeptSoundSchema, `/api/rehearsals/${id}/sound?from=${from}`, {
      method: 'POST',
      headers: { 'content-type': 'application/octet-stream' },
      body: samples,
    });
  },
  soundOf: (id: string): string => `/api/rehearsals/${id}/sound`,
  modelFile: async (id: string, file: string): Promise<Uint8Array<ArrayBuffer>> =>
    new Uint8Array(await (await reach(`/models/${id}/${file}`)).arrayBuffer()),

  /** Has the host get a model and tells how it goes. Resolves at the end of the stream; its last message says how. */
  async getModel(id: string, onProgress: (progress: InstallProgress) => void): Promise<void> {
    const response = await reach(`/api/models/${id}/get`, { method: 'POST' });
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
