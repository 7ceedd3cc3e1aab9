import { useEffect, useEffectEvent, useState } from 'react';
import type { ResidentSettings } from '../../app/settings/resident.ts';
import type { Ask } from '../../app/bench/resident/asks.ts';
import { instrumentsOf, type Instruments } from '../../app/bench/resident/instruments.ts';
import type { Resident } from '../../app/bench/resident/resident.ts';
import type { Beam } from '../../app/bench/scale.ts';
import type { Bench } from '../../app/marking/state.ts';
import { BenchSound } from '../bench/benchSound.ts';
import type { Passing } from '../bench/useTime.ts';
import { useLessMotion } from '../bench/useTime.ts';
import '../styles/screens/bench.css';
import '../styles/screens/atBench.css';
import { Counting } from './Counting.tsx';
import { HANDS, type Hand } from './hands.ts';
import { ReadOff } from './ReadOff.tsx';
import { Squeezing } from './Squeezing.tsx';
import { useRoomTime } from './useRoomTime.ts';

/** What each drawing is given. */
export interface AtBenchProps {
  readonly resident: Resident;
  readonly instruments: Instruments;
  readonly beam: Beam;
  readonly passing: Passing;
  readonly channels: ResidentSettings;
  readonly sound: BenchSound;
}

/** The simulated resident in the room, where one would be: seen, heard, and handled without a touch. */
export function AtBench({
  bench: { resident, handled },
  beam,
  settings,
  moment,
  onAsk,
}: {
  readonly bench: Bench;
  readonly beam: Beam;
  readonly settings: ResidentSettings;
  /** Seconds of the recording, as they pass. */
  readonly moment: () => number;
  readonly onAsk: (ask: Ask) => void;
}) {
  const less = useLessMotion();
  const [sound] = useState(() => new BenchSound());
  useEffect(() => {
    sound.open();
    return () => void sound.close();
  }, [sound]);
  const passing = useRoomTime(moment, resident.at);
  const instruments = instrumentsOf(resident.at, handled);
  const hands = HANDS[resident.measure];
  useHands(hands, instruments, onAsk);
  const channels = { ...settings, still: settings.still || less };
  const props: AtBenchProps = { resident, instruments, beam, passing, channels, sound };
  return (
    <section className="at-bench" aria-label="The simulated resident">
      {drawingOf(props)}
      <p className="at-bench-hands">
        {hands.map(({ key, sign, says, ask }) => (
          <button
            key={key}
            type="button"
            className="room-key"
            tabIndex={-1}
            onMouseDown={(event) => event.preventDefault()}
            onClick={() => onAsk(ask(instruments))}
          >
            <kbd>{sign}</kbd> “{says}”
          </button>
        ))}
      </p>
    </section>
  );
}

function drawingOf(props: AtBenchProps): React.ReactNode {
  switch (props.resident.measure) {
    case 'respirations':
    case 'pulse':
      return <Counting {...props} />;
    case 'pressure':
      return <Squeezing {...props} />;
    case 'urine':
    case 'weight':
      return <ReadOff {...props} />;
  }
}

/** Keys for the hands, as long as the resident is there. */
function useHands(hands: readonly Hand[], instruments: Instruments, onAsk: (ask: Ask) => void): void {
  const down = useEffectEvent((event: KeyboardEvent): void => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const found = hands.find(({ key }) => key === event.key.toLowerCase());
    if (!found || (event.repeat && found.repeats !== true)) return;
    event.preventDefault();
    onAsk(found.ask(instruments));
  });
  useEffect(() => {
    const listen = (event: KeyboardEvent): void => down(event);
    window.addEventListener('keydown', listen);
    return () => window.removeEventListener('keydown', listen);
  }, []);
}
