import { parseArgs } from 'node:util';
import { dataFolder } from '../../disk/dataFolder.ts';
import { SkillFolder } from '../../library/skillFolder.ts';
import { ReviewEventSchema, type ReviewEvent } from '../../marking/events.ts';
import { UnknownRehearsal, type Kept } from '../../records/kept.ts';
import { Rehearsals } from '../../records/rehearsals.ts';
import { reviewOf } from '../../review/review.ts';
import { answering } from '../recorded/answering.ts';
import type { ExitCode, Io } from '../io.ts';

/** `sinkside review export …` */
export function exportReviews(args: string[], io: Io): Promise<ExitCode> {
  return answering(io, async () => {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: { data: { type: 'string' } },
    });
    const data = values.data ?? dataFolder();
    const rehearsals = new Rehearsals(data, (await SkillFolder.open(data)).library);
    const reviews = [];
    try {
      for (const id of positionals.length > 0 ? positionals : await rehearsals.ids()) {
        const review = reviewIn(id, await rehearsals.read(id));
        if (positionals.length > 0 || review.said.length > 0) reviews.push(review);
      }
    } catch (error) {
      if (!(error instanceof UnknownRehearsal)) throw error;
      io.err(`${error.message}\n`);
      return 3;
    }
    io.out(`${JSON.stringify(reviews, null, 2)}\n`);
    return 0;
  });
}

/** All that people said of a rehearsal, in its order, and what stands of it for each skill: of several verdicts the last. */
function reviewIn(id: string, { header, events }: Kept) {
  const { skill, version = null, engine, startedAt, trainee = null } = header;
  const said = events.filter((event): event is ReviewEvent => ReviewEventSchema.safeParse(event).success);
  const skills = [...new Set(said.flatMap((event) => ('skill' in event ? [event.skill] : [])))].sort(
    (a, b) => a - b,
  );
  const standing = skills.map((index) => {
    const { verdicts, measured, signedOff } = reviewOf(events, index);
    return {
      skill: index,
      verdicts: Object.fromEntries([...verdicts].map(([step, { verdict }]) => [step, verdict])),
      measured: Object.fromEntries(measured),
      signedOff: signedOff && { by: signedOff.by, madeAt: signedOff.madeAt },
    };
  });
  return { id, skill, version, engine, startedAt, trainee, said, standing };
}
