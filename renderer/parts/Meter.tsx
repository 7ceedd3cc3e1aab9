import { SILENCE, type Level } from '../../app/loudness/soundCheck.ts';
import { decibels } from '../words.ts';

/** Lowest level drawn, dBFS: quieter rooms than this are rare. */
const LEAST = -80;
const place = (level: number): number => Math.max(0, Math.min(100, ((level - LEAST) / -LEAST) * 100));

/** The microphone's level as a bar from −80 dBFS to full scale, with its peak and, where known, the noise floor. */
export function Meter({
  level,
  floor = null,
  small = false,
}: {
  readonly level: Level | null;
  readonly floor?: number | null;
  readonly small?: boolean;
}) {
  const { rms, peak, clipped } = level ?? { rms: SILENCE, peak: SILENCE, clipped: 0 };
  const text = clipped > 0 ? 'too loud' : decibels(rms);
  return (
    <div
      className={`meter${small ? ' meter-small' : ''}${clipped > 0 ? ' meter-clipped' : ''}`}
      role="meter"
      aria-label="Microphone level"
      aria-valuemin={LEAST}
      aria-valuemax={0}
      aria-valuenow={Math.round(Math.max(LEAST, rms))}
      aria-valuetext={text}
    >
      <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect className="meter-track" x="0" y="0" width="100" height="10" />
        <rect className="meter-hot" x={place(-3)} y="0" width={100 - place(-3)} height="10" />
        <rect className="meter-run" x="0" y="0" width={place(rms)} height="10" />
        <rect className="meter-peak" x={Math.min(99.4, place(peak))} y="0" width="0.6" height="10" />
        {floor !== null && <rect className="meter-floor" x={place(floor)} y="0" width="0.8" height="10" />}
      </svg>
      {!small && <span className="meter-text">{text}</span>}
    </div>
  );
}
