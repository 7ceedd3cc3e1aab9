import { useKnown } from '../known.tsx';
import type { Wanted } from './wanted.ts';

/** Choosing what is looked for: by skill, class and day. */
export function Filters({
  wanted,
  onChange,
  everySkill,
}: {
  readonly wanted: Wanted;
  readonly onChange: (wanted: Wanted) => void;
  /** What stands for no skill in particular; null where one must be chosen. */
  readonly everySkill: string | null;
}) {
  const { library, people } = useKnown();
  // Others see their own rehearsals alone.
  const classes = people.isInstructor ? classesOf(people.trainees) : [];
  const change = (part: Partial<Wanted>): void => onChange({ ...wanted, ...part });
  return (
    <div className="filters" role="search">
      <label className="field">
        <span>Skill</span>
        <select value={wanted.skill} onChange={({ target }) => change({ skill: target.value })}>
          {everySkill !== null && <option value="">{everySkill}</option>}
          {library.skills.map(({ id, title }) => (
            <option key={id} value={id}>
              {title}
            </option>
          ))}
        </select>
      </label>
      {classes.length > 0 && (
        <label className="field">
          <span>Class</span>
          <select value={wanted.class} onChange={({ target }) => change({ class: target.value })}>
            <option value="">Every class</option>
            {classes.map((name) => (
              <option key={name}>{name}</option>
            ))}
          </select>
        </label>
      )}
      {(['from', 'to'] as const).map((end) => (
        <label key={end} className="field">
          <span>{end === 'from' ? 'From' : 'To'}</span>
          <input type="date" value={wanted[end]} onChange={({ target }) => change({ [end]: target.value })} />
        </label>
      ))}
    </div>
  );
}

/** The names of the classes that people are in. */
const classesOf = (trainees: readonly { readonly class: string }[]): string[] =>
  [...new Set(trainees.map((trainee) => trainee.class))]
    .filter((name) => name !== '')
    .sort((a, b) => a.localeCompare(b, 'en', { numeric: true }));
