import { Hono, type Context } from 'hono';
import type { Library } from '../../library/library.ts';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { attemptCsv } from '../../report/attemptCsv.ts';
import { attemptHtml } from '../../report/attemptHtml.ts';
import type { AttemptReport } from '../../report/attemptReport.ts';
import { classCsv } from '../../report/classCsv.ts';
import { classHtml } from '../../report/classHtml.ts';
import type { ClassReport } from '../../report/classReport.ts';
import { ClassAskedSchema, type ClassAsked, type ReportFormat } from '../api.ts';
import { inLocalTime } from '../localTime.ts';
import { checkInstructor, checkSeen, viewerOf } from '../people/viewer.ts';
import { Refused } from '../refused.ts';
import { readAttemptReport } from '../reports/attemptReportOf.ts';
import { readClassReport } from '../reports/classReportOf.ts';
import { whereOf, type Env } from '../request.ts';

/** How a report is written. */
type Writers<R> = Readonly<Record<ReportFormat, { readonly type: string; write(report: R): string }>>;

const asJson = {
  type: 'application/json',
  write: (report: unknown) => `${JSON.stringify(report, null, 2)}\n`,
};
const ATTEMPT: Writers<AttemptReport> = {
  html: { type: 'text/html; charset=utf-8', write: attemptHtml },
  csv: { type: 'text/csv; charset=utf-8', write: attemptCsv },
  json: asJson,
};
const CLASS: Writers<ClassReport> = {
  html: { type: 'text/html; charset=utf-8', write: classHtml },
  csv: { type: 'text/csv; charset=utf-8', write: classCsv },
  json: asJson,
};

/** Reports of one rehearsal, for who may see it, and of a class, for the instructor. */
export function reportRoutes(
  rehearsals: Rehearsals,
  library: Library,
  people: PeopleFile,
  area: InstructorsArea,
): Hono<Env> {
  return new Hono<Env>()
    .get('/api/rehearsals/:id/:report{report\\.(?:html|csv|json)}', async (c) => {
      const viewer = await viewerOf(c, area);
      const id = c.req.param('id');
      await checkSeen(viewer, rehearsals, id);
      const report = await readAttemptReport(id, viewer, { rehearsals, library, people });
      return answer(c, ATTEMPT, report, `report-${id}`);
    })
    .get('/api/class/:report{report\\.(?:html|csv|json)}', async (c) => {
      checkInstructor(await viewerOf(c, area));
      const madeAt = inLocalTime(new Date().toISOString());
      const report = await readClassReport(askedOf(c), madeAt, { rehearsals, library, people });
      return answer(c, CLASS, report, `class-report-${madeAt.slice(0, 10)}`);
    });
}

function answer<R>(c: Context<Env, '/:report'>, writers: Writers<R>, report: R, name: string): Response {
  const format = c.req.param('report').slice('report.'.length) as ReportFormat; // The route takes no other.
  const { type, write } = writers[format];
  c.header('content-type', type);
  c.header('content-disposition', `inline; filename="${name}.${format}"`);
  return c.body(write(report));
}

/** @throws {Refused} a parameter is none */
function askedOf(c: Context<Env>): ClassAsked {
  const { class: ofClass, from, to } = c.req.query();
  const asked = ClassAskedSchema.safeParse({ class: ofClass, skills: c.req.queries('skill'), from, to });
  if (asked.success) return asked.data;
  // A check that failed has an issue.
  const { path, message } = asked.error.issues[0]!;
  throw new Refused(400, {
    error: `${path.join('.')}: ${message}.`,
    where: whereOf(c),
    advice:
      'Give ?class=NAME, ?skill=ID once or more, ?from=2026-03-01 and ?to=2026-03-31, or leave them out.',
  });
}
