import { describe, expect, it } from 'vitest';
import { utteranceOf, type Utterance } from '../language/utterance.ts';
import type { Listener, ListenerEvent, Vocabulary } from './listener.ts';
import { TogetherListener } from './togetherListener.ts';

/** A listener that says what it is told to, and notes what was asked of it. */
class Puppet implements Listener {
  onEvent: (event: ListenerEvent) => void = () => undefined;
  readonly asked: string[] = [];
  /** What it says when the next piece of sound comes. */
  next: ListenerEvent[] = [];

  start({ phrases }: Vocabulary): Promise<void> {
    return this.note(`start ${phrases.join()}`);
  }
  expect({ phrases }: Vocabulary): Promise<void> {
    return this.note(`expect ${phrases.join()}`);
  }
  feed({ length }: Float32Array): Promise<void> {
    for (const event of this.next.splice(0)) this.onEvent(event);
    return this.note(`feed ${length}`);
  }
  async pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    await this.note(`pinpoint ${wanted.join()}`);
    const words = utterance.words.map((word, i) =>
      wanted.includes(i) ? { ...word, uncertainty: 0.25 } : word,
    );
    return { ...utterance, words };
  }
  stop(): Promise<void> {
    return this.note('stop');
  }
  private note(what: string): Promise<void> {
    this.asked.push(what);
    return Promise.resolve();
  }
}

const heard = (text: string, start: number, end: number, id = 0): ListenerEvent & { type: 'utterance' } => ({
  type: 'utterance',
  utterance: utteranceOf({ id, text, start, end }),
});

async function together() {
  const [quick, settled] = [new Puppet(), new Puppet()];
  const events: ListenerEvent[] = [];
  const open = (puppet: Puppet) => (onEvent: (event: ListenerEvent) => void) => {
    puppet.onEvent = onEvent;
    return Promise.resolve(puppet);
  };
  const listener = await TogetherListener.open(open(quick), open(settled), (event) => events.push(event));
  return { quick, settled, listener, events };
}

describe('two engines that listen together', () => {
  it('both hear everything, the quick one first', async () => {
    const { quick, settled, listener } = await together();
    await listener.start({ phrases: ['call light'] });
    await listener.feed(new Float32Array(160));
    await listener.expect({ phrases: ['gait belt'] });
    await listener.stop();
    expect(settled.asked).toEqual(['start call light', 'feed 160', 'expect gait belt', 'stop']);
    // Held to the phrases it would hear all sound twice, for nothing.
    expect(quick.asked).toEqual(['start ', 'feed 160', 'stop']);
  });

  it('tell what is being said as the quick one hears it, and utterances as the settled one does, with what both heard', async () => {
    const { quick, settled, listener, events } = await together();
    quick.next = [
      { type: 'speech', at: 1 },
      { type: 'partial', text: 'getting', start: 1, end: 1.3 },
      heard('getting some hope', 1, 2),
      heard('next saying', 3, 4),
    ];
    settled.next = [{ type: 'speech', at: 1.1 }, heard('Getting some soap.', 1.1, 2.1)];
    await listener.feed(new Float32Array(160));
    expect(events.map((e) => (e.type === 'partial' ? e.text : e.type))).toEqual([
      'speech',
      'getting',
      'getting some hope',
      'next saying',
      'utterance',
    ]);
    const { utterance } = events.at(-1) as ListenerEvent & { type: 'utterance' };
    expect(utterance).toMatchObject({ text: 'Getting some soap.', start: 1.1 });
    expect(utterance.second).toMatchObject({ text: 'getting some hope', start: 1, end: 2 });

    settled.next = [heard('Nothing else.', 8, 9, 1)];
    await listener.feed(new Float32Array(160));
    expect((events.at(-1) as ListenerEvent & { type: 'utterance' }).utterance).not.toHaveProperty('second');
  });

  it('take the time of a word from the quick one where it heard it too, and ask the settled one otherwise', async () => {
    const { quick, settled, listener, events } = await together();
    quick.next = [heard('now i rinsed the', 0, 4)];
    settled.next = [heard('I am rinsing soup.', 0.2, 4.2)];
    await listener.feed(new Float32Array(160));
    const { utterance } = events.at(-1) as ListenerEvent & { type: 'utterance' };
    const rinsed = utterance.second!.words[2]!;
    const finer = await listener.pinpoint(utterance, [2, 3]);
    expect(finer.words[2]).toEqual({ ...utterance.words[2], start: rinsed.start, end: rinsed.end });
    expect(finer.words[3]!.uncertainty).toBe(0.25);
    expect(settled.asked.at(-1)).toBe('pinpoint 3');
    await listener.pinpoint(utterance, [2]);
    expect(settled.asked.filter((what) => what.startsWith('pinpoint'))).toHaveLength(1);
  });

  it('pass on the troubles of both', async () => {
    const { quick, settled, listener, events } = await together();
    const trouble = (message: string): ListenerEvent => ({
      type: 'trouble',
      trouble: { kind: 'engine', message },
    });
    quick.next = [trouble('quick')];
    settled.next = [trouble('settled')];
    await listener.feed(new Float32Array(160));
    expect(events).toEqual([trouble('quick'), trouble('settled')]);
  });
});
