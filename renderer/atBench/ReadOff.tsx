import { filledFrom } from '../../app/bench/container.ts';
import { imbalance, loadFrom, pointerAt } from '../../app/bench/scale.ts';
import { BalanceBeam } from '../bench/drawings/BalanceBeam.tsx';
import { Graduate } from '../bench/drawings/Graduate.tsx';
import type { AtBenchProps } from './AtBench.tsx';

/** Long enough ago for the beam to have come to rest, in seconds. */
const SETTLED = 10;

/** An instrument that is read by eye: the measuring container or the scale. */
export const ReadOff = (props: AtBenchProps) =>
  props.resident.measure === 'urine' ? <Container {...props} /> : <Scale {...props} />;

const Container = ({ resident, instruments: { above } }: AtBenchProps) => (
  <>
    <Graduate volume={filledFrom(resident.seed)} above={above} />
    <p role="status">{above === 0 ? 'You look at eye level.' : 'You look down from above.'}</p>
  </>
);

function Scale({ resident, instruments, beam, passing, channels }: AtBenchProps) {
  const { isZeroed, isOnScale, poises, moved } = instruments;
  const { weight, offZero } = loadFrom(resident.seed, beam);
  const off = imbalance(beam, isOnScale ? weight : 0, poises, isZeroed ? 0 : offZero);
  const since = channels.still ? SETTLED : Math.max(0, passing.seconds - moved);
  return (
    <>
      <BalanceBeam beam={beam} poises={poises} pointer={pointerAt(beam, off, since)} />
      <p role="status">{isOnScale ? 'The resident stands on the scale.' : 'Nobody is on the scale yet.'}</p>
    </>
  );
}
