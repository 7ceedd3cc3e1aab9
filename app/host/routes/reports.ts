import { Hono, type Context } from 'hono';
import { agreementOf } from '../../agreement/agreement.ts';
import { pairsOf } from '../../agreement/pairs.ts';
import type { Library } from '../../library/library.ts';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Trainee } from '../../people/trainee.ts';
import { attemptOf, type Attempt } from '../../progress/attempt.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import type { RehearsalSummary } from '../../records/summary.ts';
import { attemptCsv } from '../../report/attemptCsv.ts';
import { attemptHtml } from '../../report/attemptHtml.ts';
import { attemptReport, type AttemptReport } from '../../report/attemptReport.ts';
import { classCsv } from '../../report/classCsv.ts';
import { classHtml } from '../../report/classHtml.ts';
import { classReport, type ClassReport } from '../../report/classReport.ts';
import { UnknownVariant } from '../../skills/checklist.ts';
import { CannotDraw } from '../../skills/draw.ts';
import { ClassAskedSchema, type ClassAsked, type ReportFormat } from '../api.ts';
import { inLocalTime, localDayOf } from '../localTime.ts';
import { checkInstructor, checkSeen, viewerOf, type Viewer } from '../people/viewer.ts';
import { Refused } from '../refused.ts';
import { whereOf, type Env } from '../request.ts';
import { judgedIn, seenOf } from './judged.ts';

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

interface Sources {
  readonly rehearsals: Rehearsals;
  readonly library: Library;
  readonly people: PeopleFile;
}

function answer<R>(c: Context<Env, '/:report'>, writers: Writers<R>, report: R, name: string): Response {
  const format = c.req.param('report').slice('report.'.length) as ReportFormat; // The route takes no other.
  const { type, write } = writers[format];
  c.header('content-type', type);
  c.header('content-disposition', `inline; filename="${name}.${format}"`);
  return c.body(write(report));
}

async function readAttemptReport(id: string, viewer: Viewer, sources: Sources): Promise<AttemptReport> {
  const { rehearsals, library, people } = sources;
  const kept = seenOf(await rehearsals.read(id), viewer);
  const summary = (await rehearsals.list()).find((each) => each.id === id);
  const { header } = kept;
  const { trainees } = await people.read();
  const trainee = trainees.find((each) => each.id === header.trainee);
  const about = {
    id,
    trainee: trainee ? { name: trainee.name, class: trainee.class } : lostTrainee(header.trainee ?? null),
    startedAt: header.startedAt,
    seconds: summary?.seconds ?? 0,
    engine: header.engine,
    test: header.form === undefined ? null : (summary?.title ?? 'Mock test'),
    notes: summary?.note ? summary.note.split('\n') : [],
  };
  const skills = markable(id, () => judgedIn(kept, library)).map((judged) => {
    const { only } = header;
    const { checklist } = judged;
    const steps = only ? checklist.steps.filter((step) => only.includes(step.id)) : checklist.steps;
    return { ...judged, checklist: { ...checklist, steps }, whole: !only };
  });
  return attemptReport(about, skills, inLocalTime);
}

/** What is told of a trainee who is no longer listed. */
const lostTrainee = (id: string | null): AttemptReport['trainee'] =>
  id === null ? null : { name: 'Somebody no longer listed', class: '' };

/** @throws {Refused} its skill or rules are gone */
function markable<T>(id: string, mark: () => T): T {
  try {
    return mark();
  } catch (error) {
    if (!isGone(error)) throw error;
    throw new Refused(422, {
      error: `It cannot be marked: ${error.message}`,
      where: id,
      advice: 'Put the skill back that it was rehearsed with, then ask again.',
    });
  }
}

const isGone = (error: unknown): error is Error =>
  error instanceof UnknownVariant || error instanceof CannotDraw;

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

/** The latest attempts of each person at each skill that are looked at: enough for what a class report says of them. */
const LATEST = 3;

async function readClassReport(asked: ClassAsked, madeAt: string, sources: Sources): Promise<ClassReport> {
  const { rehearsals, library, people } = sources;
  const { trainees } = await people.read();
  const ofClass = trainees.filter((each) => asked.class === undefined || each.class === asked.class);
  const names = namesOf(ofClass);
  const shown = asked.skills?.map((id) => library.skills.get(id)?.id ?? id) ?? [...library.skills.keys()];
  const skills = shown.map((id) => ({ id, title: library.skills.get(id)?.title ?? id }));
  const chosen = latestOf(
    (await rehearsals.list()).filter((each) => isAsked(each, asked, names)),
    shown,
  );
  const attempts: Attempt[] = [];
  const pairs: ReturnType<typeof pairsOf> = [];
  const leftOut: string[] = [];
  for (const { id, startedAt, trainee = null } of chosen) {
    const kept = await rehearsals.read(id);
    try {
      for (const { checklist, state, review } of judgedIn(kept, library)) {
        if (!shown.includes(checklist.skill.id)) continue;
        const about = { id, startedAt, trainee: names.get(trainee ?? '') ?? null };
        attempts.push(attemptOf(about, checklist, state, review));
        pairs.push(...pairsOf({ attempt: id, engine: kept.header.engine }, checklist, state, review));
      }
    } catch (error) {
      if (!isGone(error)) throw error;
      leftOut.push(`${id}: ${error.message}`);
    }
  }
  return classReport({
    madeAt,
    about: describe(asked, skills),
    people: [...names.values()],
    skills,
    attempts,
    agreement: pairs.length > 0 ? agreementOf(pairs) : null,
    leftOut,
  });
}

/** Whether a rehearsal of somebody in the class began in the days that are asked for. */
function isAsked(
  { trainee, startedAt }: RehearsalSummary,
  { from, to }: ClassAsked,
  names: ReadonlyMap<string, string>,
): boolean {
  const day = localDayOf(startedAt);
  return names.has(trainee ?? '') && (from === undefined || day >= from) && (to === undefined || day <= to);
}

/** The latest few rehearsals of each person at each of some skills. @param rehearsals the newest first */
function latestOf(rehearsals: readonly RehearsalSummary[], skills: readonly string[]): RehearsalSummary[] {
  const found = new Map<string, number>();
  return rehearsals.filter(({ trainee, skills: rehearsed }) => {
    const keys = rehearsed.flatMap(({ skill }) => (skills.includes(skill) ? [`${trainee} ${skill}`] : []));
    const isWanted = keys.some((key) => (found.get(key) ?? 0) < LATEST);
    if (isWanted) for (const key of keys) found.set(key, (found.get(key) ?? 0) + 1);
    return isWanted;
  });
}

/** A name for each person that no other has: where several have the same, the class and then a number tell them apart. */
function namesOf(trainees: readonly Trainee[]): Map<string, string> {
  const names = new Map<string, string>();
  const taken = new Set<string>();
  for (const { id, name, class: ofClass } of trainees) {
    let [own, n] = [name, 2];
    if (taken.has(own) && ofClass !== '') own = `${name} (${ofClass})`;
    while (taken.has(own)) own = `${name} (${n++})`;
    taken.add(own);
    names.set(id, own);
  }
  return names;
}

/** "Class Spring; Hand washing; from 2026-03-01 to 2026-03-31". */
function describe(
  { class: ofClass, skills: asked, from, to }: ClassAsked,
  skills: readonly { readonly title: string }[],
): string {
  const days = [...(from ? [`from ${from}`] : []), ...(to ? [`to ${to}`] : [])].join(' ');
  return [
    ofClass === undefined
      ? 'Everybody on this machine'
      : `Class ${ofClass === '' ? 'without a name' : ofClass}`,
    asked ? skills.map(({ title }) => title).join(', ') : 'every skill',
    ...(days === '' ? [] : [days]),
  ].join('; ');
}
