import { createHash } from 'node:crypto';
import { appendFile, mkdir, readFile } from 'node:fs/promises';
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { z } from 'zod';
import { openEngine } from '../../../app/engines/engines.ts';
import { packagedFiles, runnable } from '../../../app/engines/packaged.ts';
import { COMMAND_PHRASES } from '../../../app/language/commands.ts';
import { UtteranceSchema, type Utterance } from '../../../app/language/utterance.ts';
import type { Library } from '../../../app/library/library.ts';
import type { Listener } from '../../../app/listening/listener.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { makeChecklist, vocabularyOf, type Checklist } from '../../../app/skills/checklist.ts';
import { loadModel } from '../../../models/load.ts';
import { listeningVersion } from '../bench/recognise.ts';
import { makeNoise, mix, seedOf } from '../noise.ts';
import { concatenate, inPieces } from '../sound.ts';
import { CACHE, say, type VoiceId } from '../voices.ts';
import type { Form } from './forms.ts';
import { promptSound } from './prompts.ts';

/** A form as it is to be heard: who says it, and how far, in dB, the voice stands above a tap; null for silence around it. */
export interface Hearing {
  readonly form: Form;
  readonly voice: VoiceId | 'person';
  readonly snr: number | null;
}

const KeptSchema = z.object({ key: z.string(), listening: z.string(), utterances: z.array(UtteranceSchema) });

/** Seconds of silence before and after. */
const EDGE = 0.7;

const keyOf = ({ form: { skill, variants, text }, voice, snr }: Hearing): string =>
  createHash('sha256')
    .update(JSON.stringify([skill, variants, text, voice, snr]))
    .digest('hex')
    .slice(0, 24);

/** The usual engine, with what it has heard kept on disk: the bench can be broken off and gone on with. */
export class HeardReadings {
  private readonly file = path.join(CACHE, 'readings.jsonl');
  private readonly kept = new Map<string, z.infer<typeof KeptSchema>>();
  private heard: Utterance[] = [];
  private listener: Listener | null = null;
  private listening = '';

  private constructor(private readonly library: Library) {}

  /** What was heard before alone: hears nothing new. */
  static async kept(library: Library): Promise<HeardReadings> {
    const self = new HeardReadings(library);
    await mkdir(CACHE, { recursive: true });
    const lines = (await readFile(self.file, 'utf8').catch(() => '')).split('\n');
    for (const line of lines.filter((each) => each !== '')) {
      const kept = KeptSchema.safeParse(JSON.parse(line));
      if (kept.success) self.kept.set(kept.data.key, kept.data);
    }
    return self;
  }

  static async open(library: Library): Promise<HeardReadings> {
    const self = await HeardReadings.kept(library);
    const model = await loadModel('moonshine');
    self.listening = listeningVersion(model.id);
    const packaged = packagedFiles();
    self.listener = await openEngine({
      model: await runnable(model, packaged),
      detector: readFileSync(packaged.detector),
      onEvent: (event) => {
        if (event.type === 'utterance') self.heard.push(event.utterance);
      },
    });
    return self;
  }

  checklistOf({ skill, variants }: Form): Checklist {
    const found = this.library.skills.get(skill);
    if (!found) throw new RangeError(`There is no skill "${skill}".`);
    return makeChecklist(found, this.library.lexicon, this.library.rules, variants);
  }

  /** What was heard before, by this version of the program or, where stale will do, by any; null for nothing. */
  before(hearing: Hearing, trustStale: boolean): readonly Utterance[] | null {
    const kept = this.kept.get(keyOf(hearing));
    return kept && (trustStale || kept.listening === this.listening) ? kept.utterances : null;
  }

  /** Hears it now and keeps what was heard. */
  async hear(hearing: Hearing): Promise<readonly Utterance[]> {
    const { listener } = this;
    if (!listener) throw new Error('The engine is not open.');
    const { form } = hearing;
    const samples = await soundOf(hearing);
    this.heard = [];
    const checklist = this.checklistOf(form);
    const phrases = [...vocabularyOf(checklist, this.library.lexicon), ...COMMAND_PHRASES];
    await listener.start({ phrases, steps: checklist.steps });
    for await (const piece of inPieces(samples)) await listener.feed(piece);
    await listener.stop();
    const kept = { key: keyOf(hearing), listening: this.listening, utterances: this.heard };
    this.kept.set(kept.key, kept);
    await appendFile(this.file, `${JSON.stringify(kept)}\n`);
    return kept.utterances;
  }
}

async function soundOf({ form, voice, snr }: Hearing): Promise<Float32Array> {
  const said = voice === 'person' ? await promptSound(form) : await say({ voice, text: form.text });
  const edge = new Float32Array(EDGE * SAMPLE_RATE);
  const clean = concatenate([edge, said, edge]);
  if (snr === null) return clean;
  const other = voice === 'person' ? 'joe' : voice;
  return mix(clean, await makeNoise('tap', clean.length, seedOf(form.id + voice), other), snr);
}
