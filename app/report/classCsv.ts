import type { ClassReport } from './classReport.ts';
import { csvOf, type Cell } from './csv.ts';

const COLUMNS = [
  ...['made', 'about', 'skill', 'title', 'step', 'text', 'critical'],
  ...['trainee', 'credited in the last attempt', 'caution'],
] as const;

/** The report of a class as a table: a row for each step in each person's last attempt. */
export const classCsv = ({ madeAt, about, skills, caution }: ClassReport): string =>
  csvOf(
    COLUMNS,
    skills.flatMap(({ skill, title, steps, people }) =>
      people.flatMap(({ name, credited }) =>
        steps.map(({ step, text, critical }, i): Cell[] => [
          ...[madeAt, about, skill, title, step, text],
          critical,
          name,
          credited[i] ?? 'not judged',
          caution,
        ]),
      ),
    ),
  );
