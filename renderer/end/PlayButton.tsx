import type { Sound } from './sound.ts';

/** Plays a stretch of the recording, or stops it; nothing where its sound was not kept. */
export function PlayButton({
  sound,
  name,
  from,
  to,
}: {
  readonly sound: Sound;
  /** What is heard. Buttons of the same name play the same. */
  readonly name: string;
  /** Seconds of the recording. */
  readonly from: number;
  readonly to: number;
}) {
  if (from >= sound.seconds) return null;
  const isPlaying = sound.playing === name;
  const does = isPlaying ? 'Stop' : 'Play';
  return (
    <button
      type="button"
      className="button play"
      aria-label={`${does}: ${name}`}
      onClick={() => sound.toggle(name, from, to)}
    >
      <svg viewBox="0 0 32 32" aria-hidden="true">
        <path d={isPlaying ? 'M6 6h20v20H6z' : 'M9 5l18 11L9 27z'} />
      </svg>
      {does}
    </button>
  );
}
