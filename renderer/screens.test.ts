import { describe, expect, it } from 'vitest';
import type { ModelStanding } from '../app/host/api.ts';
import { DEFAULT_SETTINGS } from '../app/settings/settings.ts';
import { readMessage } from './api.ts';
import { modelOf, nameOf, rivalModels } from './models.ts';
import { afterProgress, type Getting } from './parts/ModelGetter.tsx';
import { microphoneTrouble, troubleOf, withoutTrouble, withTrouble } from './room/troubles.ts';
import type { Spoken } from '../app/marking/state.ts';
import { localVoice, sentencesOf, Voice } from './room/voice.ts';

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

describe('the model that listens', () => {
  const standing = (id: string, changes: Partial<ModelStanding> = {}): ModelStanding => ({
    id,
    engine: 'moonshine',
    installed: 'installed',
    bytes: 1,
    licence: 'MIT',
    note: '',
    forPeople: true,
    message: '',
    files: [],
    ...changes,
  });
  const trial = standing('trial', { forPeople: false });
  const absent = standing('absent', { installed: 'missing' });
  const streaming = standing('streaming', { engine: 'vosk' });
  const models = [absent, trial, standing('usual'), standing('other'), streaming];
  const withModel = (model: string | null) => ({ ...DEFAULT_SETTINGS, model });
  const idOf = (model: string | null, among = models): string | undefined =>
    modelOf(withModel(model), among, 'moonshine')?.id;

  it('is the first that is here and for people, unless another is set and here', () => {
    expect(idOf(null)).toBe('usual');
    expect(idOf('other')).toBe('other');
    expect(idOf('absent')).toBe('usual');
    expect(idOf('taken out of the catalogue')).toBe('usual');
    expect(idOf('streaming')).toBe('usual');
    expect(idOf(null, [trial, absent])).toBe('trial');
    expect(idOf(null, [absent])).toBe('absent');
    expect(idOf(null, [streaming])).toBeUndefined();
  });

  it('is in the name that records and trials have', () => {
    expect(nameOf(withModel('other'), models, 'both')).toBe('both/other+streaming');
  });

  it('can be chosen where an engine has several to choose from', () => {
    expect(rivalModels(models).map(({ id }) => id)).toEqual(['usual', 'other']);
    expect(rivalModels([standing('usual'), trial, absent, streaming])).toEqual([]);
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
