import type { Utterance } from '../language/utterance.ts';
import type { Listener, ListenerEvent, Vocabulary } from './listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';

/** From where a listener that counts from 0 is counted on: seconds of the recording, and the next utterance's id. */
export interface Offset {
  readonly seconds: number;
  readonly ids: number;
}

/**
 * A listener whose times and ids go on when it is started again, as for a rehearsal that was broken off and is gone on with. Speech pending at a new start is recognised first.
 */
export class ContinuedListener implements Listener {
  private fed = 0;
  private started = false;

  /**
   * @param listener the one that hears; its events are to be handed to {@link take}
   * @param offset where the recording stands
   */
  constructor(
    private readonly listener: Listener,
    private readonly onEvent: (event: ListenerEvent) => void,
    private offset: Offset = { seconds: 0, ids: 0 },
    private nextId = offset.ids,
  ) {}

  /** An event of the listener behind it. */
  readonly take = (event: ListenerEvent): void => {
    const { seconds, ids } = this.offset;
    switch (event.type) {
      case 'speech':
        return this.onEvent({ ...event, at: event.at + seconds });
      case 'partial':
        return this.onEvent({ ...event, start: event.start + seconds, end: event.end + seconds });
      case 'utterance': {
        const utterance = moved(event.utterance, seconds, ids);
        this.nextId = utterance.id + 1;
        return this.onEvent({ type: 'utterance', utterance });
      }
      case 'trouble':
        return this.onEvent(event);
    }
  };

  async start(vocabulary: Vocabulary): Promise<void> {
    const { fed } = this;
    // Both at once: what is fed meanwhile must come after the start, for it belongs to what is counted again.
    const stopped = this.started ? this.listener.stop() : undefined;
    const begun = this.listener.start(vocabulary);
    this.started = true;
    await Promise.all([stopped, begun]);
    this.fed -= fed;
    this.offset = { seconds: this.offset.seconds + fed / SAMPLE_RATE, ids: this.nextId };
  }

  expect(vocabulary: Vocabulary): Promise<void> {
    return this.listener.expect(vocabulary);
  }

  feed(samples: Float32Array): Promise<void> {
    this.fed += samples.length;
    return this.listener.feed(samples);
  }

  async pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    const { seconds, ids } = this.offset;
    if (utterance.id < ids) return utterance;
    return moved(await this.listener.pinpoint(moved(utterance, -seconds, -ids), wanted), seconds, ids);
  }

  stop(): Promise<void> {
    return this.listener.stop();
  }
}

function moved(utterance: Utterance, seconds: number, ids: number): Utterance {
  if (seconds === 0 && ids === 0) return utterance;
  const { id, second } = utterance;
  const later = <H extends Pick<Utterance, 'start' | 'end' | 'words'>>(heard: H): H => ({
    ...heard,
    start: heard.start + seconds,
    end: heard.end + seconds,
    words: heard.words.map((word) => ({ ...word, start: word.start + seconds, end: word.end + seconds })),
  });
  return { ...later(utterance), id: id + ids, ...(second && { second: later(second) }) };
}
