import { describe, expect, it } from 'vitest';
import { readMessage } from './api.ts';
import { afterProgress, type Getting } from './parts/ModelGetter.tsx';
import { microphoneTrouble, troubleOf, withoutTrouble, withTrouble } from './troubles.ts';
import type { Spoken } from '../app/rehearsal/state.ts';
import { localVoice, sentencesOf, Voice } from './voice.ts';

describe('troubles', () => {
  it('tell what kept the microphone from being opened', () => {
    const kindOf = (name: string): string => microphoneTrouble(new DOMException('', name)).kind;
    expect(kindOf('NotAllowedError')).toBe('microphone refused');
    expect(kindOf('NotReadableError')).toBe('microphone taken');
    expect(kindOf('NotFoundError')).toBe('microphone missing');
    expect(microphoneTrouble(new Error('odd')).text).toContain('odd');
  });

  it('stand once each, the newest text last', () => {
    const two = withTrouble([troubleOf('host', 'a'), troubleOf('behind')], troubleOf('host', 'b'));
    expect(two.map(({ kind }) => kind)).toEqual(['behind', 'host']);
    expect(two[1]!.text).toContain('(b)');
    expect(withoutTrouble(two, 'microphone lost')).toBe(two);
    expect(withoutTrouble(two, 'behind', 'host')).toEqual([]);
  });
});

describe('getting the model', () => {
  it('reads the stream and shows how far it is', () => {
    const asked: Getting = { at: 'asked' };
    const messages = [
      'data: {"type":"source","name":"a wheel","totalBytes":100}',
      ': a comment',
      'data: {"type":"bytes","bytes":40}',
    ];
    const shown = messages
      .map(readMessage)
      .reduce<Getting>((now, progress) => (progress ? afterProgress(now, progress) : now), asked);
    expect(shown).toEqual({ at: 'getting', from: 'a wheel', bytes: 40, total: 100 });
    expect(afterProgress(shown, { type: 'failed', why: 'gone' })).toMatchObject({ bytes: 0, total: 0 });
    expect(afterProgress(shown, { type: 'error', message: 'No network' })).toEqual({
      at: 'failed',
      message: 'No network',
    });
  });

  it('passes over messages it does not know', () => {
    expect(readMessage('data: {"type":"later"}')).toBeNull();
  });
});

describe('the voice', () => {
  const voice = (lang: string, localService: boolean): SpeechSynthesisVoice => ({
    lang,
    localService,
    default: false,
    name: lang,
    voiceURI: lang,
  });

  it('is one of this machine, or none: a remote one would send the words away', () => {
    const near = voice('en-GB', true);
    expect(localVoice([voice('en-US', false), voice('de-DE', true), near])).toBe(near);
    expect(localVoice([voice('en-US', false), voice('de-DE', true)])).toBeNull();
  });

  it('that is only written takes no time, however the clock ticks', async () => {
    let ticks = 0;
    const spoken: Spoken[] = [];
    const captions: string[] = [];
    const voice = new Voice({
      now: () => (ticks += 0.00001),
      onCaption: (text) => captions.push(text),
      onSpoke: (saying) => spoken.push(saying),
      aloud: false,
      volume: 1,
    });
    await voice.say('Going on. Say it again.');
    expect(captions).toEqual(['Going on. Say it again.']);
    expect(spoken).toHaveLength(1);
    expect(spoken[0]!.to).toBe(spoken[0]!.from);
  });

  it('speaks sentence by sentence', () => {
    expect(sentencesOf('Paused. Say "go on" when you are ready.')).toEqual([
      'Paused.',
      'Say "go on" when you are ready.',
    ]);
  });
});
