import { filledFrom, toFluidOunces } from '../../app/bench/container.ts';
import { heardBeats, type CuffPoint, type HeardBeat } from '../../app/bench/pressure.ts';
import { STOP_GRACE } from '../../app/bench/readings/reading.ts';
import { armAs, pulseOf } from '../../app/bench/resident/resident.ts';
import { loadFrom, toKilograms, toPounds } from '../../app/bench/scale.ts';
import { lookBackOn, type LookedBack } from '../../app/marking/simulated.ts';
import type { State } from '../../app/marking/state.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import { BalanceBeam } from '../bench/drawings/BalanceBeam.tsx';
import { Graduate } from '../bench/drawings/Graduate.tsx';
import { CountTruth, CuffTruth } from '../bench/drawings/TruthPicture.tsx';
import { OutcomeFacts } from '../bench/Outcome.tsx';
import { figure, MEASURES, PATTERN_SAYS, UNIT_SAYS } from '../bench/words.ts';
import '../styles/screens/bench.css';
import { countedOf } from './Counting.tsx';

/** The truth of the simulated resident, once the skill is over, beside what was said. Nothing where there was none. */
export function ResidentTruth({
  checklist,
  state,
}: {
  readonly checklist: Checklist;
  readonly state: State;
}) {
  const back = lookBackOn(checklist, state);
  if (!back) return null;
  const { title } = MEASURES[back.resident.measure];
  const nameOf = (step: string): string => {
    const evidence = checklist.steps.find(({ id }) => id === step)?.evidence;
    if (back.resident.measure !== 'pressure' || evidence?.kind !== 'reading') return title;
    return evidence.which === 'first' ? 'Upper number' : 'Lower number';
  };
  const taken = back.readings.flatMap(({ step, comparison }) =>
    comparison ? [{ name: nameOf(step), comparison }] : [],
  );
  return (
    <section className="bench-part" aria-label="The simulated resident">
      <h2>The simulated resident</h2>
      <OutcomeFacts taken={taken} remarks={back.remarks} notes={[...unsaid(back, nameOf), ...notesOf(back)]}>
        {pictureOf(back)}
      </OutcomeFacts>
    </section>
  );
}

/** What could not be compared, and why. */
const unsaid = ({ readings }: LookedBack, nameOf: (step: string) => string): string[] =>
  readings.flatMap(({ step, unit, truth, comparison, unclear }) => {
    const name = nameOf(step);
    if (comparison) return [];
    if (truth === null)
      return [`${name}: nothing was measured as far as was heard, so there is no truth to compare with.`];
    const said =
      unclear === null ? 'No number was heard.' : `The number was not heard clearly: ${figure(unclear)}?`;
    return [`${name}: the truth is ${figure(truth)} ${UNIT_SAYS[unit]}. ${said}`];
  });

function notesOf({ resident, readings, cuff, count, beam }: LookedBack): string[] {
  const truth = readings[0]?.truth ?? null;
  const whom = `A drawn resident is not a person. The same one again: number ${resident.seed}.`;
  switch (resident.measure) {
    case 'respirations':
    case 'pulse': {
      const { pattern } = resident;
      const said = pattern === 'gap' || pattern === 'plain' ? null : PATTERN_SAYS[pattern];
      const kind = resident.measure === 'respirations' ? 'How they breathed' : 'What the pulse was like';
      return [
        ...(said ? [`${kind}: ${said.toLowerCase()}.`] : []),
        ...(count ? [] : ['No count was heard.']),
        whom,
      ];
    }
    case 'pressure': {
      const rate = cuff?.measured.rate ?? null;
      const down = rate === null ? [] : [`You let it down at ${rate.toFixed(1)} mmHg a second.`];
      const { systolic, diastolic } = armAs(resident, true);
      return [...down, `At heart height this resident has ${systolic} over ${diastolic}.`, whom];
    }
    case 'urine':
      return [
        ...(truth === null
          ? []
          : [`${figure(truth)} mL are ${toFluidOunces(truth).toFixed(1)} fluid ounces.`]),
        whom,
      ];
    case 'weight': {
      const { weight } = loadFrom(resident.seed, beam);
      const other =
        beam.unit === 'pounds'
          ? `${figure(weight)} lb are ${toKilograms(weight).toFixed(1)} kg.`
          : `${figure(weight)} kg are ${toPounds(weight).toFixed(1)} lb.`;
      return [other, whom];
    }
  }
}

/** The picture of what there was to measure. */
function pictureOf({ resident, count, cuff, instruments, beam }: LookedBack): React.ReactNode {
  switch (resident.measure) {
    case 'respirations':
    case 'pulse': {
      if (!count) return null;
      const { from, to } = count.said;
      const stretch = { from, to: to ?? from + 60 };
      const seconds = count.isHalf ? 30 : 60;
      const counted = countedOf(resident, Math.max(stretch.to, from + 60) + STOP_GRACE + 3);
      return <CountTruth counted={counted} stretch={stretch} seconds={seconds} />;
    }
    case 'pressure': {
      if (!cuff || cuff.instruments.cuff.length === 0) return null;
      const { points, measured } = cuff;
      const arm = armAs(resident, instruments.isSupported);
      const heard = heardBeats(arm, pulseOf(resident, points.at(-1)?.at ?? 0), points);
      return <CuffTruth {...whileSqueezed(points, heard)} measured={measured} />;
    }
    case 'urine':
      return <Graduate volume={filledFrom(resident.seed)} above={0} />;
    case 'weight': {
      const { weight } = loadFrom(resident.seed, beam);
      const large = Math.min(beam.notches, Math.floor(weight / beam.notch));
      return <BalanceBeam beam={beam} poises={{ large, small: weight - large * beam.notch }} pointer={0} />;
    }
  }
}

/** The stretch in which the cuff was not empty, from 0 on. */
function whileSqueezed(points: readonly CuffPoint[], heard: readonly HeardBeat[]) {
  const first = points.findIndex(({ pressure }) => pressure > 0);
  const last = points.findLastIndex(({ pressure }) => pressure > 0);
  // At the point after it the cuff is empty.
  const from = (points[first]?.at ?? 0) - 1;
  const to = (points[last + 1] ?? points[last])?.at ?? 0;
  const within = <T extends CuffPoint>(all: readonly T[]): T[] =>
    all.filter(({ at }) => at >= from && at <= to).map((each) => ({ ...each, at: each.at - from }));
  return { points: within(points), heard: within(heard) };
}
