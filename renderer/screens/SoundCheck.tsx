import { useEffect, useRef, useState } from 'react';
import { Link } from 'wouter';
import { ADDRESS } from '../addresses.ts';
import { useKnown } from '../known.tsx';
import { listMicrophones, openMicrophone, type Processing } from '../../app/sound/microphone.ts';
import {
  judgeSound,
  levelOf,
  noiseFloor,
  sentenceScore,
  TEST_SENTENCE,
  type Level,
  type Verdict,
} from '../../app/loudness/soundCheck.ts';
import type { Settings } from '../../app/host/api.ts';
import { framePowers, FRAMES_PER_SECOND } from '../../app/loudness/activeLevel.ts';
import { describeCheck, remember, type CheckedMicrophone } from '../../app/loudness/checkedMicrophones.ts';
import { signalToNoise } from '../../app/loudness/signalToNoise.ts';
import { openEar } from '../room/ear.ts';
import { Banners } from '../parts/Banner.tsx';
import { Heading } from '../parts/Heading.tsx';
import { Meter } from '../parts/Meter.tsx';
import { microphoneTrouble, troubleOf, type Trouble } from '../room/troubles.ts';
import type { Utterance } from '../../app/language/utterance.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { decibels, percent } from '../words.ts';

/** Seconds of the tap alone that are measured: how far off the measure is was found with as many. Shorter, the tap’s swells count for more. */
const QUIET_FOR = 5;
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
  | ({ readonly at: 'done'; readonly floor: number | null } & Checked);

/** What a check came to. */
interface Checked {
  readonly verdict: Verdict;
  readonly heard: string;
  /** The voice beside the tap, to be remembered; null where nothing could recognise words. */
  readonly beside: Pick<CheckedMicrophone, 'measured' | 'listening'> | null;
}

const SWITCHES: readonly (readonly [keyof Processing, string])[] = [
  ['echoCancellation', 'Take out what the loudspeaker plays'],
  ['noiseSuppression', 'Take out noise'],
  ['autoGainControl', 'Level the loudness'],
];

/** The trouble there is when the microphone goes away. */
const LOST = { ended: 'microphone lost', muted: 'microphone taken' } as const;

/** Whether the room, the tap and the microphone will do. */
export function SoundCheck() {
  const { level, stage, trouble, run, microphones, cleaned } = useSoundCheck();
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
      <WhatToDo stage={stage} cleaned={cleaned} />
      <div className="actions">
        <button
          type="button"
          className="button main"
          disabled={busy || trouble !== null}
          onClick={() => void run?.begin()}
        >
          {stage.at === 'done' ? 'Check again' : 'Begin the check'}
        </button>
        <Link href={ADDRESS.home} className="button">
          To the skills
        </Link>
      </div>
      <MicrophoneChoice microphones={microphones} disabled={busy} />
      <ProcessingChoice disabled={busy} />
    </main>
  );
}

/** The microphone, open and measured, and the check that hears it. */
function useSoundCheck() {
  const { settings, saveSettings: onSettings, canHear: canRecognise } = useKnown();
  const [microphones, setMicrophones] = useState<readonly { id: string; label: string }[]>([]);
  const [level, setLevel] = useState<Level | null>(null);
  const [stage, setStage] = useState<Stage>({ at: 'idle' });
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [run, setRun] = useState<Run | null>(null);
  const { microphone, processing } = settings;
  const { echoCancellation, noiseSuppression, autoGainControl } = processing;
  const cleaned = echoCancellation || noiseSuppression || autoGainControl;
  // A check outlives the settings it began with.
  const keep = useLatest((check: CheckedMicrophone): void => {
    const checkedMicrophones = remember(settings.checkedMicrophones, check);
    onSettings({ ...settings, checkedMicrophones });
  });

  useEffect(() => {
    let wanted = true;
    let label = '';
    const current = new Run(
      canRecognise ? settings : null,
      (next) => {
        setStage(next);
        if (next.at !== 'done' || !next.beside) return;
        const at = new Date().toISOString();
        keep.current({ ...next.beside, label, device: microphone, at, cleaned });
      },
      setTrouble,
    );
    setRun(current);
    setStage({ at: 'idle' });
    const take = (samples: Float32Array): void => {
      const measured = levelOf(samples);
      setLevel(measured);
      current.take(samples, measured);
    };
    const opened = openMicrophone(take, {
      device: microphone,
      processing: { echoCancellation, noiseSuppression, autoGainControl },
      onChange: (change) => setTrouble(change === 'unmuted' ? null : troubleOf(LOST[change])),
    });
    opened.then(
      async (open) => {
        label = open.label;
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
  }, [
    microphone,
    echoCancellation,
    noiseSuppression,
    autoGainControl,
    canRecognise,
    settings.engine,
    settings.model,
  ]);

  return { level, stage, trouble, run, microphones, cleaned };
}

/** The function of the latest drawing, for what outlives the one it began with. */
function useLatest<F>(now: F): { readonly current: F } {
  const latest = useRef(now);
  useEffect(() => {
    latest.current = now;
  });
  return latest;
}

/** What is to be done now, and at the end what came of it. */
function WhatToDo({ stage, cleaned }: { readonly stage: Stage; readonly cleaned: boolean }) {
  return (
    <section className="check" aria-live="polite">
      {stage.at === 'idle' && (
        <p className="check-say">
          Turn the tap on as far as you will in the rehearsal, and stand where you will stand. Then begin the
          check: first say nothing for {QUIET_FOR} seconds, then say one sentence. Leave the tap running all
          the time.
        </p>
      )}
      {stage.at === 'opening' && <p className="check-say">Getting ready…</p>}
      {stage.at === 'quiet' && (
        <p className="check-say">Leave the tap running, and say nothing: {Math.ceil(stage.left)}</p>
      )}
      {stage.at === 'sentence' && (
        <p className="check-say">
          The tap still running, say: <q>{TEST_SENTENCE}</q>
        </p>
      )}
      {stage.at === 'done' && <Result stage={stage} cleaned={cleaned} />}
    </section>
  );
}

function MicrophoneChoice({
  microphones,
  disabled,
}: {
  readonly microphones: readonly { id: string; label: string }[];
  readonly disabled: boolean;
}) {
  const { settings, saveSettings } = useKnown();
  return (
    <fieldset className="choices" disabled={disabled}>
      <legend>Microphone</legend>
      <label className="choice">
        <span>Listen with</span>
        <select
          value={settings.microphone ?? ''}
          onChange={({ target }) => saveSettings({ ...settings, microphone: target.value || null })}
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
  );
}

/** The browser’s own clean-up of the sound. */
function ProcessingChoice({ disabled }: { readonly disabled: boolean }) {
  const { settings, saveSettings } = useKnown();
  const { processing } = settings;
  return (
    <fieldset className="choices" disabled={disabled}>
      <legend>Reduce noise and echo</legend>
      <p className="hint">
        Made for calls: it may swallow the beginnings of words. Off is best, unless this check says otherwise.
      </p>
      {SWITCHES.map(([name, text]) => (
        <label key={name} className="choice">
          <input
            type="checkbox"
            checked={processing[name]}
            onChange={({ target }) =>
              saveSettings({ ...settings, processing: { ...processing, [name]: target.checked } })
            }
          />
          {text}
        </label>
      ))}
    </fieldset>
  );
}

const SIGNS = { good: '✓', fair: '~', bad: '!' } as const;

function Result({
  stage,
  cleaned,
}: {
  readonly stage: Stage & { at: 'done' };
  /** Whether the browser cleaned the sound up. */
  readonly cleaned: boolean;
}) {
  const { verdict, heard, beside } = stage;
  const kind = verdict.kind === 'good' || verdict.kind === 'fair' ? verdict.kind : 'bad';
  return (
    <div className={`verdict verdict-${kind}`}>
      <p className="verdict-text">
        <span className="verdict-sign" aria-hidden="true">
          {SIGNS[kind]}
        </span>
        {verdict.text}
      </p>
      {beside && <p className="check-expect">{describeCheck({ ...beside, cleaned })}</p>}
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
  /** Powers of the frames of both. */
  private tap: number[] = [];
  private beside: number[] = [];
  private heard: Utterance[] = [];
  /** What listens, as records name it. */
  private listening = '';
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
    this.tap = [];
    this.beside = [];
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
      this.tap.push(...framePowers(samples));
      const left = QUIET_FOR - this.quiet.length / PIECES;
      if (left > 0) return this.show({ at: 'quiet', left });
      this.stage = 'sentence';
      return this.show({ at: 'sentence', floor: noiseFloor(this.quiet) });
    }
    this.feed?.(samples);
    this.spoken.push(level);
    this.beside.push(...framePowers(samples));
    const floor = noiseFloor(this.quiet);
    if (this.spoken.length < this.endsAfter) return this.show({ at: 'sentence', floor });
    this.stage = 'idle';
    this.feed = null;
    const heard = this.heard.map(({ text }) => text).join(' ');
    const verdict = judgeSound({
      quiet: this.quiet,
      spoken: this.spoken,
      heard: this.settings ? heard : null,
    });
    const beside = this.settings && { measured: this.measure(), listening: this.listening };
    this.show({ at: 'done', verdict, heard, beside, floor });
  }

  /** The voice over the tap, from the beginning of the first saying to the end of the last; null where there is none. */
  private measure(): CheckedMicrophone['measured'] {
    const [first, last] = [this.heard[0], this.heard.at(-1)];
    if (!first || !last) return null;
    const spoken = this.beside.slice(
      Math.floor(first.start * FRAMES_PER_SECOND),
      Math.ceil(last.end * FRAMES_PER_SECOND),
    );
    return signalToNoise(this.tap, spoken);
  }

  private async listen(settings: Settings): Promise<void> {
    const ear = await openEar(settings);
    if (this.closed) return;
    this.listening = ear.name;
    ear.onEvent = (event) => {
      if (event.type !== 'utterance' || this.stage !== 'sentence') return;
      this.heard.push(event.utterance);
      this.endsAfter = this.spoken.length + LISTEN_ON * PIECES;
    };
    await ear.listener.start({ phrases: [] });
    this.feed = (samples) => void ear.listener.feed(samples);
  }
}
