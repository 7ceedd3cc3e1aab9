import { useState } from 'react';
import type { Settings } from '../../app/host/api.ts';
import type { Tried } from '../../app/authoring/tryPhrase.ts';
import { hearOnce } from './hearOnce.ts';
import { microphoneTrouble } from '../room/troubles.ts';
import { PhraseResult } from './PhraseResult.tsx';

/** A sentence tried against the skill as it is written just now: which steps it would credit, and which nearly. */
export function PhraseTester({
  phrase,
  tried,
  settings,
  canRecognise,
  onPhrase,
}: {
  readonly phrase: string;
  /** Null while there is no sentence, or the skill has faults. */
  readonly tried: Tried | null;
  readonly settings: Settings;
  /** Whether the speech model is there. */
  readonly canRecognise: boolean;
  readonly onPhrase: (phrase: string) => void;
}) {
  const { ear, trouble, listen } = useEar(settings, onPhrase);
  return (
    <section className="tester" aria-label="Try a sentence">
      <h2>Try a sentence</h2>
      <div className="tester-line">
        <label className="field">
          <span>What a trainee may say</span>
          <input type="text" value={phrase} onChange={({ target }) => onPhrase(target.value)} />
        </label>
        {canRecognise && (
          <button type="button" className="button" disabled={ear !== 'idle'} onClick={() => void listen()}>
            {{ listening: 'Listening…', opening: 'Opening…', idle: 'Say it instead' }[ear]}
          </button>
        )}
      </div>
      <div aria-live="polite">
        {trouble !== '' && <p>{trouble}</p>}
        {tried && <PhraseResult tried={tried} />}
        {!tried && phrase.trim() !== '' && <p className="hint">It is tried once the skill has no faults.</p>}
      </div>
    </section>
  );
}

/** One sentence heard through the microphone. */
function useEar(settings: Settings, onHeard: (sentence: string) => void) {
  const [ear, setEar] = useState<'idle' | 'opening' | 'listening'>('idle');
  const [trouble, setTrouble] = useState('');
  const listen = async (): Promise<void> => {
    setEar('opening');
    setTrouble('');
    try {
      const heard = await hearOnce(settings, () => setEar('listening'));
      if (heard === '') setTrouble('Nothing was heard.');
      else onHeard(heard);
    } catch (error) {
      const { title, text } = microphoneTrouble(error);
      setTrouble(`${title} ${text}`);
    }
    setEar('idle');
  };
  return { ear, trouble, listen };
}
