import { SingleBar } from 'cli-progress';
import type { Report } from '../../records/index/rehearsalIndex.ts';
import type { Io } from '../io.ts';

/** A bar that tells on a terminal how far the reading of what is kept is. It is drawn only where there is something to read. */
export function readingBar({ isTerminal }: Pick<Io, 'isTerminal'>): {
  readonly report: Report;
  readonly stop: () => void;
} {
  const bar = new SingleBar({ format: 'Reading what is kept {bar} {value} of {total}', hideCursor: true });
  let isDrawn = false;
  return {
    report: ({ done, of }) => {
      if (!isTerminal) return;
      if (!isDrawn) bar.start(of, done);
      isDrawn = true;
      bar.update(done);
    },
    stop: () => bar.stop(),
  };
}
