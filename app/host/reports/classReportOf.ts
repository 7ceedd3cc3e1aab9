import { agreementOf } from '../../agreement/agreement.ts';
import { pairsOf } from '../../agreement/pairs.ts';
import type { Trainee } from '../../people/trainee.ts';
import { attemptOf, type Attempt } from '../../progress/attempt.ts';
import type { RehearsalSummary } from '../../records/summary.ts';
import { classReport, type ClassReport } from '../../report/classReport.ts';
import type { ClassAsked } from '../api.ts';
import { localDayOf } from '../localTime.ts';
import { judgedIn } from '../routes/judged.ts';
import { isGone, type Sources } from './attemptReportOf.ts';

/** The latest attempts of each person at each skill that are looked at: enough for what a class report says of them. */
const LATEST = 3;

/** The report of a class. */
export async function readClassReport(
  asked: ClassAsked,
  madeAt: string,
  sources: Sources,
): Promise<ClassReport> {
  const { rehearsals, library, people } = sources;
  const { trainees } = await people.read();
  const ofClass = trainees.filter((each) => asked.class === undefined || each.class === asked.class);
  const names = namesOf(ofClass);
  const shown = asked.skills ?? [...library.skills.keys()];
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
