import path from 'node:path';
import { serveStatic } from '@hono/node-server/serve-static';
import { Hono } from 'hono';
import { streamSSE } from 'hono/streaming';
import { catalog, DEFAULT_MODEL, findModel, modelBytes, type Model } from '../../../models/catalog.ts';
import { installModel, InstallFailed, realEffects, type InstallEffects } from '../../../models/install.ts';
import { loadModel, ModelCorrupt, ModelMissing } from '../../../models/load.ts';
import { modelFolder, modelsHome } from '../../../models/verify.ts';
import { packagedFiles, type PackagedFiles } from '../../engines/packaged.ts';
import type { InstallProgress, ModelStanding } from '../api.ts';
import { messageOf } from '../../faults/faults.ts';
import { Refused } from '../refused.ts';
import type { Env } from '../request.ts';
import type { HostOptions } from '../server.ts';

/** How the models stand, getting them, and their files. */
export function modelRoutes({
  packaged = packagedFiles(),
  effects = realEffects,
}: Pick<HostOptions, 'packaged' | 'effects'>): Hono<Env> {
  const installs = new Installs(effects);
  return new Hono<Env>()
    .get('/api/models', async (c) => c.json(await modelStandings()))
    .post('/api/models/:id/get', (c) => {
      const model = findModel(c.req.param('id'));
      if (!model) throw unknownModel(c.req.param('id'));
      // Server-sent events (WHATWG HTML, section 9.2).
      const response = streamSSE(c, async (stream) => {
        let told = Promise.resolve<unknown>(undefined);
        await installs.watch(model, (progress) => {
          told = stream.writeSSE({ data: JSON.stringify(progress) });
        });
        await told;
      });
      response.headers.set('cache-control', 'no-store');
      return response;
    })
    .get('/models/:id/:name', async (c) => {
      const { id, name } = c.req.param();
      const found = modelFile(id, name, packaged);
      if (!found) throw unknownModel(`${id}/${name}`);
      c.header('cache-control', 'no-cache');
      const missing = (): never => {
        throw unknownModel(`${id}/${name}`);
      };
      return (await serveStatic<Env>({ path: path.join(found.folder, found.name) })(c, missing)) ?? missing();
    });
}

function unknownModel(id: string): Refused {
  return new Refused(404, {
    error: `There is no model file or model "${id}".`,
    where: `/models/${id}`,
    advice: 'GET /api/models lists what there is.',
  });
}

/** How each model stands. Checks their files whole: some 0.2 s for one that is installed. */
function modelStandings(): Promise<ModelStanding[]> {
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
function modelFile(
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

/** A model being got: who watches, what was told last, and its end. */
interface Install {
  readonly watching: Set<(progress: InstallProgress) => void>;
  last: InstallProgress[];
  over: Promise<void>;
}

/** Models being got: each once, however many pages watch. */
class Installs {
  private readonly running = new Map<string, Install>();

  constructor(private readonly effects: (report: InstallEffects['report']) => InstallEffects) {}

  /**
   * Tells how getting a model goes, and begins getting it unless that is going on already. Resolves at its end; it goes on
   * when the page that asked leaves.
   */
  watch(model: Model, tell: (progress: InstallProgress) => void): Promise<void> {
    const running = this.running.get(model.id) ?? this.begin(model);
    running.last.forEach(tell);
    running.watching.add(tell);
    return running.over;
  }

  private begin(model: Model): Install {
    const running: Install = { watching: new Set(), last: [], over: Promise.resolve() };
    this.running.set(model.id, running);
    const report = (progress: InstallProgress): void => {
      // Who comes later is told the source and how far it is.
      if (progress.type === 'source') running.last = [];
      running.last = [...running.last.filter((earlier) => earlier.type !== progress.type), progress];
      running.watching.forEach((tell) => tell(progress));
    };
    const finish = (progress: InstallProgress): void => {
      report(progress);
      this.running.delete(model.id);
    };
    running.over = installModel(model, modelsHome(), this.effects(report)).then(
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
