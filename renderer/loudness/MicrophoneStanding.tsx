import { useEffect, useState } from 'react';
import type { Settings } from '../../app/host/api.ts';
import { checkOf, describeCheck } from '../../app/loudness/checkedMicrophones.ts';
import { localDate } from '../words.ts';

/** What a new microphone says. */
export const NEVER_CHECKED =
  'This microphone has not been checked beside a running tap. The sound check tells how many of your steps it will hear.';

/** Which microphone will be used, and what its last sound check makes one expect. */
export function MicrophoneStanding({
  settings,
  listening,
}: {
  readonly settings: Settings;
  /** What will listen, as records name it. */
  readonly listening: string;
}) {
  const { microphone, checkedMicrophones } = settings;
  const label = useLabel(microphone);
  const check = checkOf(checkedMicrophones, label, microphone);
  const name = label ?? check?.label ?? null;
  return (
    <section className="microphone" aria-label="Microphone">
      <p>
        <strong>Microphone:</strong> {name ?? 'the system’s own choice'}.
      </p>
      <p>
        {check ? `Sound check of ${localDate(check.at)}: ${describeCheck(check, listening)}` : NEVER_CHECKED}
      </p>
    </section>
  );
}

/** What the system calls the microphone of an id, null for its own choice; null while names may not be read. */
function useLabel(device: string | null): string | null {
  const [label, setLabel] = useState<string | null>(null);
  useEffect(() => {
    let wanted = true;
    const ask = (): void => {
      // A browser that tells nothing leaves the name unknown.
      void readLabel(device).then(
        (read) => wanted && setLabel(read),
        () => undefined,
      );
    };
    ask();
    navigator.mediaDevices.addEventListener('devicechange', ask);
    return () => {
      wanted = false;
      navigator.mediaDevices.removeEventListener('devicechange', ask);
    };
  }, [device]);
  return label;
}

async function readLabel(device: string | null): Promise<string | null> {
  const inputs = (await navigator.mediaDevices.enumerateDevices()).filter(
    ({ kind }) => kind === 'audioinput',
  );
  // One that is gone gives way to the system's own choice, as the room does it.
  const used =
    inputs.find(({ deviceId }) => deviceId === device) ??
    inputs.find(({ deviceId }) => deviceId === 'default');
  return used?.label || null;
}
