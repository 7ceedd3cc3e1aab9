import { canVibrate } from '../bench/benchSound.ts';

/** By which senses the resident can be met. */
export interface Channels {
  readonly picture: boolean;
  readonly sound: boolean;
  readonly vibration: boolean;
  /** The clock ticks, for who cannot see its hand. */
  readonly clock: boolean;
  /** Less movement: things change in steps or in brightness. */
  readonly still: boolean;
}

/** The choice of the senses by which the resident is met, and what that cannot make fair. */
export function ChannelChoice({
  channels,
  less,
  onChange,
}: {
  readonly channels: Channels;
  /** The system asks for less movement already. */
  readonly less: boolean;
  readonly onChange: (channels: Channels) => void;
}) {
  const box = (name: keyof Channels, text: string, disabled = false) => (
    <label className="choice">
      <input
        type="checkbox"
        checked={channels[name]}
        disabled={disabled}
        onChange={() => onChange({ ...channels, [name]: !channels[name] })}
      />
      {text}
    </label>
  );
  return (
    <fieldset className="choices">
      <legend>How you meet the resident</legend>
      {box('picture', 'See it')}
      {box('sound', 'Hear it')}
      {canVibrate() && box('vibration', 'Feel it as vibration')}
      {box('clock', 'Hear the clock tick')}
      {box('still', 'Less movement', less)}
      <p className="hint">
        The low sounds need headphones. What cannot be made fair: at a bedside breaths are seen and beats are
        felt, so counting them by ear here, or seeing a sound as a word, is easier or harder than the real
        thing; a number counted so does not show that you can do it there. The container and the beam can only
        be read by eye. And a drawn resident is not a person.
      </p>
    </fieldset>
  );
}
