import type { ServerResponse } from 'node:http';
import path from 'node:path';
import { catalog, DEFAULT_MODEL, findModel, modelBytes, type Model } from '../../models/catalog.ts';
import { installModel, InstallFailed, type InstallEffects } from '../../models/install.ts';
import { loadModel, ModelCorrupt, ModelMissing } from '../../models/load.ts';
import { modelFolder, modelsHome } from '../../models/verify.ts';
import type { PackagedFiles } from '../engines/packaged.ts';
import type { InstallProgress, ModelStanding } from './api.ts';
import { messageOf } from '../faults/faults.ts';

/** How each model stands. Checks their files whole: some 0.2 s for one that is installed. */
export function modelStandings(): Promise<ModelStanding[]> {
  return Promise.all(
    catalog().map(async (model): Promise<ModelStanding> => {
      const standing = {
        id: model.id,
        engine: model.engine,
        bytes: modelBytes(model),
        licence: model.licence,
        note: model.note,
        forPeople: model.forPeople,
        files: model.files.map((file) => file.path),
      };
      try {
        const { warnings } = await loadModel(model.engine, folderByHand(model.id) ?? model.id);
        return { ...standing, installed: 'installed', message: warnings.join('\n') };
      } catch (error) {
        if (error instanceof ModelMissing)
          return { ...standing, installed: 'missing', message: error.message };
        if (error instanceof ModelCorrupt)
          return { ...standing, installed: 'corrupt', message: error.message };
        throw error;
      }
    }),
  );
}

/**
 * The folder and name of a model's file; null for what no model has. The packages' files count as models of one file each,
 * by what they are for: "detector", "kaldi", "judge", "judgeTokenizer".
 */
export function modelFile(
  id: string,
  name: string,
  packaged: PackagedFiles,
): { folder: string; name: string } | null {
  if (isPackaged(id, packaged)) {
    const { dir: folder, base } = path.parse(packaged[id]);
    return name === base ? { folder, name } : null;
  }
  const model = findModel(id);
  if (!model?.files.some((file) => file.path === name)) return null;
  return { folder: folderByHand(id) ?? modelFolder(model, modelsHome()), name };
}

const isPackaged = (id: string, packaged: PackagedFiles): id is keyof PackagedFiles =>
  Object.hasOwn(packaged, id);

/** A folder that the user filled by hand stands in for the default model, here as in `sinkside assess`. */
function folderByHand(id: string): string | undefined {
  return (id === DEFAULT_MODEL && process.env['SINKSIDE_MODEL_DIR']) || undefined;
}

/** Models being got: each once, however many pages watch. */
export class Installs {
  private readonly running = new Map<string, { watching: Set<ServerResponse>; last: InstallProgress[] }>();

  constructor(private readonly effects: (report: InstallEffects['report']) => InstallEffects) {}

  /**
   * Tells a page how getting a model goes, as server-sent events (WHATWG HTML, section 9.2), and begins getting it
   * unless that is going on already. It goes on when the page leaves.
   */
  watch(model: Model, response: ServerResponse): void {
    response.writeHead(200, { 'content-type': 'text/event-stream', 'cache-control': 'no-store' });
    response.flushHeaders();
    const running = this.running.get(model.id) ?? this.begin(model);
    running.last.forEach((progress) => send(response, progress));
    running.watching.add(response);
    response.on('close', () => running.watching.delete(response));
  }

  private begin(model: Model): { watching: Set<ServerResponse>; last: InstallProgress[] } {
    const running = { watching: new Set<ServerResponse>(), last: [] as InstallProgress[] };
    this.running.set(model.id, running);
    const report = (progress: InstallProgress): void => {
      // Who comes later is told the source and how far it is.
      if (progress.type === 'source') running.last = [];
      running.last = [...running.last.filter((earlier) => earlier.type !== progress.type), progress];
      running.watching.forEach((response) => send(response, progress));
    };
    const finish = (progress: InstallProgress): void => {
      report(progress);
      this.running.delete(model.id);
      running.watching.forEach((response) => response.end());
    };
    installModel(model, modelsHome(), this.effects(report)).then(
      () => finish({ type: 'done' }),
      (error: unknown) => {
        const message = messageOf(error);
        const why = error instanceof InstallFailed ? message : `${model.id} was not installed: ${message}`;
        finish({ type: 'error', message: why });
      },
    );
    return running;
  }
}

function send(response: ServerResponse, progress: InstallProgress): void {
  response.write(`data: ${JSON.stringify(progress)}\n\n`);
}
