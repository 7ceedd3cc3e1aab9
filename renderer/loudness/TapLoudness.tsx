import type { StepMark, VoiceOverNoise } from '../../app/marking/assessment.ts';
import { describeVoiceOverNoise, MAY_EXPLAIN } from '../../app/loudness/voiceOverNoise.ts';

/** How loud the tap was beside the voice, and which misses that may explain. */
export function TapLoudness({
  measured,
  marks,
}: {
  /** Null where it was not measured. */
  readonly measured: VoiceOverNoise | null;
  readonly marks: readonly StepMark[];
}) {
  const missed = marks.filter(({ id }) => measured?.explains.includes(id));
  return (
    <>
      <h2>The tap and your voice</h2>
      {!measured && <p>How loud they were has not been measured.</p>}
      {measured && (
        <div>
          {describeVoiceOverNoise(measured).map((text) => (
            <p key={text}>{text}</p>
          ))}
        </div>
      )}
      {missed.length > 0 && (
        <div>
          <p>{MAY_EXPLAIN}</p>
          <ul>
            {missed.map(({ id, text }) => (
              <li key={id}>{text}</li>
            ))}
          </ul>
        </div>
      )}
    </>
  );
}
