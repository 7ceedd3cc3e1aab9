import type { StepMark } from '../../app/marking/assessment.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { Shape } from '../parts/Shape.tsx';
import { StepText } from '../parts/StepText.tsx';
import { PlayButton } from './PlayButton.tsx';
import type { Sound } from './sound.ts';

/** How one step is marked: its words, why, and what to say next time. */
export function MarkItem({
  mark,
  saying,
  skill,
  sound,
}: {
  readonly mark: StepMark;
  /** The best saying for it; null where there is none to give. */
  readonly saying: string | null;
  /** The skill it is from, where there are several. */
  readonly skill?: string;
  /** Absent where the recording is not at hand. */
  readonly sound?: Sound;
}) {
  const { text, critical, outcome, note, evidence } = mark;
  return (
    <li className={`mark mark-${outcome.replaceAll(' ', '-')}`}>
      <Shape mark={outcome} />
      <div className="mark-body">
        {skill !== undefined && <p className="mark-skill">{skill}</p>}
        <p className="mark-title">
          <StepText text={text} critical={critical} />
        </p>
        {note !== '' && <p>{note}</p>}
        {evidence && (
          <p className="mark-words">
            {minutes(evidence.start)} <q>{evidence.text}</q>
          </p>
        )}
        {saying !== null && (
          <p className="mark-saying">
            Say next time: <q>{saying}</q>
          </p>
        )}
      </div>
      {evidence && sound && <PlayButton sound={sound} name={text} from={evidence.start} to={evidence.end} />}
    </li>
  );
}
