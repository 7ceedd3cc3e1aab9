import type { Library, ModelStanding, Settings } from '../../app/host/api.ts';
import { tryListener } from '../../app/listening/trial.ts';
import type { Listening, Trial } from '../../app/settings/choice.ts';
import { makeChecklist, vocabularyOf } from '../../app/skills/checklist.ts';
import { COMMAND_PHRASES } from '../../app/language/commands.ts';
import { api } from '../api.ts';
import { nameOf } from '../models.ts';
import { openChoice } from './ear.ts';

/** Milliseconds that the browser is waited for to tell its memory: it does so when it next tidies up. */
const MEMORY_WITHIN = 30_000;

/**
 * Tries a choice with the built-in narration, at the speed it was spoken in.
 *
 * @throws {Error} the choice cannot be opened, the host is gone, or what `signal` was aborted with
 */
export async function runTrial(
  choice: Listening,
  library: Library,
  settings: Settings,
  models: readonly ModelStanding[],
  signal: AbortSignal,
  onProgress: (share: number) => void,
): Promise<Trial> {
  const [demo, samples] = await Promise.all([api.demo(), api.demoSound()]);
  const skill = library.skills.find(({ id }) => id === demo.skill);
  if (!skill) throw new Error(`The skill "${demo.skill}", which the built-in narration is of, is not here.`);
  const checklist = makeChecklist(skill, library.lexicon, library.rules, {});
  const ear = await openChoice(choice, settings, models);
  try {
    const score = await tryListener({
      listener: ear.listener,
      listen: (take) => (ear.onEvent = take),
      checklist,
      phrases: [...vocabularyOf(checklist, library.lexicon), ...COMMAND_PHRASES],
      samples,
      says: demo.says,
      now: () => performance.now() / 1000,
      wait: (seconds) => new Promise((done) => setTimeout(done, 1000 * seconds)),
      onProgress,
      signal,
    });
    const bytes = await memoryInUse();
    return {
      listening: choice,
      name: nameOf(settings, models, choice),
      at: new Date().toISOString(),
      ...score,
      bytes,
    };
  } finally {
    ear.onEvent = () => undefined;
  }
}

declare global {
  interface Performance {
    /** W3C Measure Memory draft; Chromium only, and only where the page is cross-origin isolated. */
    measureUserAgentSpecificMemory?(): Promise<{ readonly bytes: number }>;
  }
}

/** Bytes that the page and its workers hold; null where the browser does not tell. */
async function memoryInUse(): Promise<number | null> {
  const told = performance.measureUserAgentSpecificMemory?.().catch(() => null);
  if (!told) return null;
  const late = new Promise<null>((done) => setTimeout(() => done(null), MEMORY_WITHIN));
  return (await Promise.race([told, late]))?.bytes ?? null;
}
