import type { Settings } from '../../app/host/api.ts';
import { checkOf } from '../../app/loudness/checkedMicrophones.ts';
import { DEAD_BELOW, levelOf } from '../../app/loudness/soundCheck.ts';
import { openMicrophone, type Microphone } from '../../app/sound/microphone.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import type { Shown } from './shown.ts';
import { microphoneTrouble, troubleOf } from './troubles.ts';

/** Seconds without any sound after which the trainee is told: longer than a held breath of the system's. */
const SILENT_AFTER = 4;
/** Milliseconds between tries to open a microphone that is not there. */
const REOPEN_AFTER = 2000;

/** Who is told of what the microphone does. */
interface Told {
  readonly onSound: (samples: Float32Array) => void;
  /** It is open, for the first time or again. */
  readonly onOpen: () => void;
  /** Nothing is heard: it was unplugged, or another program has it. */
  readonly onLost: () => void;
}

/** The room's microphone: opened again when it was lost, its troubles shown. Its samples are the clock of the recording. */
export class RoomMicrophone {
  private microphone: Microphone | null = null;
  private started = false;
  private wakeLock: WakeLockSentinel | null | undefined = null;
  private opening = false;
  private closed = false;
  /** When the last piece of sound came and when the last one with any energy, ms of the page's clock. */
  private lastPiece = performance.now();
  private lastEnergy = performance.now();

  /** @param samples of the recording so far */
  constructor(
    private readonly settings: Settings,
    private readonly shown: Shown,
    private samples: number,
    private readonly told: Told,
  ) {
    navigator.mediaDevices.addEventListener('devicechange', this.reopen);
  }

  /** Seconds of the recording: the sound so far, and what of the next piece has passed. */
  get now(): number {
    const since = this.microphone ? Math.min(0.1, (performance.now() - this.lastPiece) / 1000) : 0;
    return this.samples / SAMPLE_RATE + since;
  }

  /** Opens it now, and from now on whenever it was lost. */
  async start(): Promise<void> {
    this.started = true;
    // Nobody touches the machine for minutes: without this its screen goes dark. Where it cannot be had, it does.
    this.wakeLock = await navigator.wakeLock?.request('screen').catch(() => null);
    await this.open();
  }

  /** Tells the trainee when no sound comes from it. To be called every so often. */
  checkSilence(): void {
    if (this.microphone && performance.now() - this.lastEnergy > SILENT_AFTER * 1000)
      this.shown.addTrouble(troubleOf('microphone silent'));
  }

  async close(): Promise<void> {
    this.closed = true;
    navigator.mediaDevices.removeEventListener('devicechange', this.reopen);
    await this.wakeLock?.release();
    await this.microphone?.close();
    this.microphone = null;
  }

  private readonly reopen = (): void => {
    if (this.started && !this.microphone) void this.open();
  };

  private async open(): Promise<void> {
    if (this.opening || this.closed) return;
    this.opening = true;
    const { microphone: device, processing, checkedMicrophones } = this.settings;
    try {
      const microphone = await openMicrophone((samples) => this.feed(samples), {
        device,
        processing,
        onChange: (change) => this.changed(change),
      });
      if (this.closed) return await microphone.close();
      this.microphone = microphone;
      this.lastPiece = this.lastEnergy = performance.now();
      this.shown.change({ unchecked: checkOf(checkedMicrophones, microphone.label, device) === null });
      this.shown.removeTroubles(
        'microphone refused',
        'microphone missing',
        'microphone taken',
        'microphone lost',
      );
      this.told.onOpen();
    } catch (error) {
      this.shown.addTrouble(microphoneTrouble(error));
      setTimeout(this.reopen, REOPEN_AFTER);
    } finally {
      this.opening = false;
    }
  }

  private changed(change: 'ended' | 'muted' | 'unmuted'): void {
    if (this.closed) return;
    if (change === 'unmuted') return this.shown.removeTroubles('microphone taken');
    this.shown.addTrouble(troubleOf(change === 'ended' ? 'microphone lost' : 'microphone taken'));
    this.told.onLost();
    if (change === 'muted') return;
    void this.microphone?.close();
    this.microphone = null;
    setTimeout(this.reopen, REOPEN_AFTER);
  }

  private feed(samples: Float32Array): void {
    if (this.closed) return;
    this.samples += samples.length;
    this.lastPiece = performance.now();
    const level = levelOf(samples);
    if (level.peak >= DEAD_BELOW) {
      this.lastEnergy = this.lastPiece;
      this.shown.removeTroubles('microphone silent');
    }
    this.told.onSound(samples);
    this.shown.change({ level, now: this.now });
  }
}
