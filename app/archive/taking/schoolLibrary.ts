import { parseSkill } from '../../authoring/skillFile.ts';
import { FaultyFile } from '../../faults/faults.ts';
import type { Library } from '../../library/library.ts';
import { Marker } from '../../records/marker.ts';
import { LexiconSchema, type Skill } from '../../skills/skill.ts';
import type { Seen } from '../store/connection.ts';

/** What a school's attempts are marked by. */
export interface Marking {
  readonly library: Library;
  readonly marker: Marker;
  /** Whether that version of the skill is the school's own, not the program's. */
  isOwn(skill: string, version: number): boolean;
}

/** A skill of a school's own as the archive keeps it. */
export interface OwnSkill {
  readonly skill: string;
  readonly version: number;
  readonly source: string;
  /** The wordings that its cues use, as JSON. */
  readonly slots: string;
}

/** The program's skills with those that a school's attempts were marked under. */
export class SchoolLibraries {
  private readonly known = new Map<string, { readonly upTo: string; readonly marking: Marking }>();

  constructor(private readonly programs: Library) {}

  /** The school's, read again where a skill has come since. */
  async of(db: Seen, school: string): Promise<Marking> {
    const own = db.selectFrom('skills').where('school_id', '=', school);
    const { upTo } = await own.select(({ fn }) => fn.max('id').as('upTo')).executeTakeFirstOrThrow();
    const known = this.known.get(school);
    // They are only added to, never changed.
    if (known?.upTo === String(upTo)) return known.marking;
    const skills = await own.select(['skill', 'version', 'source', 'slots']).orderBy('version').execute();
    const marking = markingWith(this.programs, skills);
    this.known.set(school, { upTo: String(upTo), marking });
    return marking;
  }
}

/** The program's library with a school's own skills, the lowest versions first; what cannot be read is left out. */
export function markingWith(programs: Library, own: readonly OwnSkill[]): Marking {
  const skills = new Map(programs.skills);
  const versions = new Map([...programs.versions].map(([id, kept]) => [id, new Map(kept)]));
  const isOwn = new Set<string>();
  // The program's wordings count; those that only a school has are added.
  const slots = Object.assign({}, ...own.map(slotsOf), programs.lexicon.slots);
  const lexicon = { ...programs.lexicon, slots };
  const keep = (skill: Skill): void => {
    const kept = versions.get(skill.id) ?? new Map<number, Skill>();
    versions.set(skill.id, kept.set(skill.version, skill));
  };
  for (const each of own) {
    const skill = readSkill(each, { ...programs, lexicon });
    if (!skill) continue;
    const before = skills.get(skill.id);
    if (before) keep(before);
    keep(skill);
    skills.set(skill.id, skill);
    isOwn.add(keyOf(skill.id, skill.version));
  }
  const library = { ...programs, lexicon, skills, versions };
  return {
    library,
    marker: new Marker(library),
    isOwn: (skill, version) => isOwn.has(keyOf(skill, version)),
  };
}

/** A school's own skill; null where it is faulty, or is not the one that it is said to be. */
export function readSkill(
  { skill, version, source }: OwnSkill,
  { lexicon, care }: Pick<Library, 'lexicon' | 'care'>,
): Skill | null {
  try {
    const read = parseSkill(`${skill}.yaml`, source, lexicon, care);
    return read.id === skill && read.version === version ? read : null;
  } catch (error) {
    if (!(error instanceof FaultyFile)) throw error;
    return null;
  }
}

const keyOf = (skill: string, version: number): string => `${skill} ${version}`;

const slotsOf = ({ slots }: OwnSkill): Readonly<Record<string, readonly string[]>> =>
  LexiconSchema.shape.slots.safeParse(JSON.parse(slots)).data ?? {};
