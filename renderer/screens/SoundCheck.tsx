import { useEffect, useState } from 'react';
import { listMicrophones, openMicrophone, type Processing } from '../../app/listening/microphone.ts';
import {
  judgeSound,
  levelOf,
  noiseFloor,
  sentenceScore,
  TEST_SENTENCE,
  type Level,
  type Verdict,
} from '../../app/listening/soundCheck.ts';
import type { Settings } from '../../app/host/api.ts';
import { openEar } from '../ear.ts';
import { Banners } from '../parts/Banner.tsx';
import { Heading } from '../parts/Heading.tsx';
import { Meter } from '../parts/Meter.tsx';
import { microphoneTrouble, troubleOf, type Trouble } from '../troubles.ts';
import { messageOf } from '../../app/rehearsal/faults.ts';
import { decibels, percent } from '../words.ts';

/** Seconds of quiet that are measured. Long enough for a median that one knock does not move. */
const QUIET_FOR = 3;
/** Seconds the sentence is waited for, and those it goes on being listened to after its first words were recognised. */
const SPEAK_WITHIN = 15;
const LISTEN_ON = 1.5;
/** Pieces of sound a second. */
const PIECES = 10;

type Stage =
  | { readonly at: 'idle' }
  | { readonly at: 'opening' }
  | { readonly at: 'quiet'; readonly left: number }
  | { readonly at: 'sentence'; readonly floor: number | null }
  | { readonly at: 'done'; readonly verdict: Verdict; readonly heard: string; readonly floor: number | null };

const SWITCHES: readonly (readonly [keyof Processing, string])[] = [
  ['echoCancellation', 'Take out what the loudspeaker plays'],
  ['noiseSuppression', 'Take out noise'],
  ['autoGainControl', 'Level the loudness'],
];

/** Whether the room, the tap and the microphone will do. */
export function SoundCheck({
  settings,
  canRecognise,
  onSettings,
  onBack,
}: {
  readonly settings: Settings;
  /** Whether the speech model is there; without it only levels are measured. */
  readonly canRecognise: boolean;
  readonly onSettings: (settings: Settings) => void;
  readonly onBack: () => void;
}) {
  const [microphones, setMicrophones] = useState<readonly { id: string; label: string }[]>([]);
  const [level, setLevel] = useState<Level | null>(null);
  const [stage, setStage] = useState<Stage>({ at: 'idle' });
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [run, setRun] = useState<Run | null>(null);
  const { microphone, processing } = settings;
  const { echoCancellation, noiseSuppression, autoGainControl } = processing;

  useEffect(() => {
    let wanted = true;
    const current = new Run(canRecognise ? settings : null, setStage, setTrouble);
    setRun(current);
    setStage({ at: 'idle' });
    const opened = openMicrophone(
      (samples) => {
        const measured = levelOf(samples);
        setLevel(measured);
        current.take(samples, measured);
      },
      {
        device: microphone,
        processing: { echoCancellation, noiseSuppression, autoGainControl },
        onChange: (change) => {
          if (change === 'unmuted') setTrouble(null);
          else setTrouble(troubleOf(change === 'ended' ? 'microphone lost' : 'microphone taken'));
        },
      },
    );
    opened.then(
      async () => {
        const found = await listMicrophones();
        if (wanted) {
          setTrouble(null);
          setMicrophones(found);
        }
      },
      (error: unknown) => wanted && setTrouble(microphoneTrouble(error)),
    );
    return () => {
      wanted = false;
      current.close();
      opened.then((open) => open.close()).catch(() => undefined);
    };
  }, [microphone, echoCancellation, noiseSuppression, autoGainControl, canRecognise, settings.engine]);

  const busy = stage.at !== 'idle' && stage.at !== 'done';
  const floor = stage.at === 'sentence' || stage.at === 'done' ? stage.floor : null;
  return (
    <main className="page">
      <Heading>Sound check</Heading>
      <Banners troubles={trouble ? [trouble] : []} />

      <section aria-label="Level">
        <Meter level={level} floor={floor} />
        <p className="hint">
          {floor === null
            ? 'Level of the microphone, from −80 dB to the loudest it can take.'
            : `Noise floor: ${decibels(floor)}.`}
        </p>
      </section>

      <section className="check" aria-live="polite">
        {stage.at === 'idle' && (
          <p className="check-say">
            Let the tap run as you will, stand where you will stand, and begin the check.
          </p>
        )}
        {stage.at === 'opening' && <p className="check-say">Getting ready…</p>}
        {stage.at === 'quiet' && <p className="check-say">Stay quiet: {Math.ceil(stage.left)}</p>}
        {stage.at === 'sentence' && (
          <p className="check-say">
            Now say: <q>{TEST_SENTENCE}</q>
          </p>
        )}
        {stage.at === 'done' && <Result stage={stage} />}
      </section>

      <div className="actions">
        <button
          type="button"
          className="button main"
          disabled={busy || trouble !== null}
          onClick={() => void run?.begin()}
        >
          {stage.at === 'done' ? 'Check again' : 'Begin the check'}
        </button>
        <button type="button" className="button" onClick={onBack}>
          Back to the start
        </button>
      </div>

      <fieldset className="choices" disabled={busy}>
        <legend>Microphone</legend>
        <label className="choice">
          <span>Listen with</span>
          <select
            value={microphone ?? ''}
            onChange={({ target }) => onSettings({ ...settings, microphone: target.value || null })}
          >
            <option value="">The system’s own choice</option>
            {microphones
              .filter(({ id }) => id !== 'default')
              .map(({ id, label }) => (
                <option key={id} value={id}>
                  {label}
                </option>
              ))}
          </select>
        </label>
      </fieldset>

      <fieldset className="choices" disabled={busy}>
        <legend>Clean-up of the sound</legend>
        <p className="hint">
          Made for calls: it may swallow the beginnings of words. Off is best, unless this check says
          otherwise.
        </p>
        {SWITCHES.map(([name, text]) => (
          <label key={name} className="choice">
            <input
              type="checkbox"
              checked={processing[name]}
              onChange={({ target }) =>
                onSettings({ ...settings, processing: { ...processing, [name]: target.checked } })
              }
            />
            {text}
          </label>
        ))}
      </fieldset>
    </main>
  );
}

const SIGNS = { good: '✓', fair: '~', bad: '!' } as const;

function Result({ stage }: { readonly stage: Stage & { at: 'done' } }) {
  const { verdict, heard } = stage;
  const kind = verdict.kind === 'good' || verdict.kind === 'fair' ? verdict.kind : 'bad';
  return (
    <div className={`verdict verdict-${kind}`}>
      <p className="verdict-text">
        <span className="verdict-sign" aria-hidden="true">
          {SIGNS[kind]}
        </span>
        {verdict.text}
      </p>
      {heard !== '' && (
        <p>
          Heard: <q>{heard}</q> ({percent(sentenceScore(TEST_SENTENCE, heard))} of the words)
        </p>
      )}
    </div>
  );
}

/** One check: quiet, then the sentence, then the verdict. */
class Run {
  private stage: 'idle' | 'quiet' | 'sentence' = 'idle';
  private quiet: Level[] = [];
  private spoken: Level[] = [];
  private heard: string[] = [];
  private endsAfter = Infinity;
  private closed = false;
  private feed: ((samples: Float32Array) => void) | null = null;

  constructor(
    /** What recognises the sentence; null where nothing can. */
    private readonly settings: Settings | null,
    private readonly show: (stage: Stage) => void,
    private readonly fail: (trouble: Trouble) => void,
  ) {}

  async begin(): Promise<void> {
    this.quiet = [];
    this.spoken = [];
    this.heard = [];
    this.endsAfter = SPEAK_WITHIN * PIECES;
    this.show({ at: 'opening' });
    if (this.settings) {
      try {
        await this.listen(this.settings);
      } catch (error) {
        this.fail(troubleOf('model', messageOf(error)));
        return this.show({ at: 'idle' });
      }
    }
    this.stage = 'quiet';
  }

  close(): void {
    this.closed = true;
    this.feed = null;
  }

  take(samples: Float32Array, level: Level): void {
    if (this.closed || this.stage === 'idle') return;
    if (this.stage === 'quiet') {
      this.quiet.push(level);
      const left = QUIET_FOR - this.quiet.length / PIECES;
      if (left > 0) return this.show({ at: 'quiet', left });
      this.stage = 'sentence';
    }
    this.feed?.(samples);
    this.spoken.push(level);
    const floor = noiseFloor(this.quiet);
    if (this.spoken.length < this.endsAfter) return this.show({ at: 'sentence', floor });
    this.stage = 'idle';
    this.feed = null;
    const heard = this.heard.join(' ');
    const verdict = judgeSound({
      quiet: this.quiet,
      spoken: this.spoken,
      heard: this.settings ? heard : null,
    });
    this.show({ at: 'done', verdict, heard, floor });
  }

  private async listen(settings: Settings): Promise<void> {
    const ear = await openEar(settings);
    if (this.closed) return;
    ear.onEvent = (event) => {
      if (event.type !== 'utterance' || this.stage !== 'sentence') return;
      this.heard.push(event.utterance.text);
      this.endsAfter = this.spoken.length + LISTEN_ON * PIECES;
    };
    await ear.listener.start({ phrases: [] });
    this.feed = (samples) => void ear.listener.feed(samples);
  }
}
