import type { AttemptReport, SkillReport, StepReport } from './attemptReport.ts';
import { csvOf, type Cell } from './csv.ts';

const COLUMNS = [
  ...['rehearsal', 'begun', 'trainee', 'class', 'heard by', 'skill', 'title', 'version'],
  ...['step', 'text', 'critical', 'machine', 'manner', 'second', 'words', 'note'],
  ...['person', 'verdict by', 'verdict given', 'reason', 'heard at second', 'machine hidden'],
  ...['said', 'sure', 'measured', 'measured by', 'unit', 'tolerance', 'within tolerance', 'caution'],
] as const;

/** The report of a rehearsal as a table, a row a step. */
export const attemptCsv = (report: AttemptReport): string =>
  csvOf(
    COLUMNS,
    report.skills.flatMap((skill) => skill.steps.map((step) => rowOf(report, skill, step))),
  );

const rowOf = (report: AttemptReport, skill: SkillReport, step: StepReport): Cell[] => [
  report.id,
  report.startedAt,
  report.trainee?.name ?? null,
  report.trainee?.class ?? null,
  report.engine,
  skill.skill,
  skill.title,
  skill.version,
  step.id,
  step.text,
  step.critical,
  ...machineCells(step.machine),
  ...personCells(step.person),
  ...readingCells(skill, step.id),
  report.caution,
];

const machineCells = (machine: StepReport['machine']): Cell[] =>
  machine
    ? [machine.outcome, machine.manner, machine.at, machine.words, machine.note]
    : ['no such step in this version', null, null, null, null];

const personCells = (person: StepReport['person']): Cell[] =>
  person
    ? [person.verdict, person.by, person.madeAt, person.reason, person.heardAt, person.blind]
    : [null, null, null, null, null, null];

function readingCells({ readings }: SkillReport, step: string): Cell[] {
  const reading = readings.find((each) => each.step === step);
  if (!reading) return [null, null, null, null, null, null, null];
  const { said, sure, measured, measuredBy, unit, tolerance, within } = reading;
  return [said, said === null ? null : sure, measured, measuredBy, unit, tolerance, within];
}
