import { stringify } from 'yaml';
import { parseSkill } from '../authoring/skillFile.ts';
import type { CarriedSkill } from '../bundle/manifest.ts';
import { BundleRefused } from '../bundle/refused.ts';
import { FaultyFile } from '../faults/faults.ts';
import type { Library } from '../library/library.ts';
import { isMarkedOtherwise, type SkillFolder } from '../library/skillFolder.ts';
import { slotsOf } from '../matching/cue.ts';
import { cuesOf } from '../skills/checklist.ts';
import type { Lexicon, Skill } from '../skills/skill.ts';
import type { TakenIn } from './takenIn.ts';

/** A version of a skill, as an attempt was marked under it. */
export interface MarkedUnder {
  readonly skill: string;
  readonly version: number;
}

/** Those of some versions that are the school's own, with all that another machine needs to mark by them. */
export async function ownSkills(folder: SkillFolder, some: readonly MarkedUnder[]): Promise<CarriedSkill[]> {
  const listed = await folder.list();
  const carried = new Map<string, CarriedSkill>();
  for (const { skill: id, version } of some) {
    if (carried.has(`${id} ${version}`)) continue;
    const now = folder.library.skills.get(id);
    const isNow = now?.version === version;
    if (isNow && !listed.find((each) => each.id === id)?.own) continue;
    const skill = isNow ? now : folder.library.versions.get(id)?.get(version);
    if (!skill) continue;
    const text = isNow ? await folder.source(id) : await folder.versionSource(id, version);
    // A shared step of the school's own is written out: the other machine has its own.
    const source = /^\s*-\s*(\{\s*)?use:/m.test(text) ? stringify(skill) : text;
    carried.set(`${id} ${version}`, { id, version, source, slots: slotsIn(skill, folder.library.lexicon) });
  }
  return [...carried.values()];
}

/** The wordings that a skill's cues use. */
function slotsIn(skill: Skill, { slots }: Lexicon): Lexicon['slots'] {
  const names = skill.steps.flatMap((step) =>
    cuesOf(step).flatMap(({ cues }) => cues.flatMap((cue) => slotsOf(cue))),
  );
  return Object.fromEntries(
    [...new Set(names)].sort().flatMap((name) => (slots[name] ? [[name, slots[name]] as const] : [])),
  );
}

/**
 * What becomes of a skill that is carried here; null where the same is here already.
 *
 * @throws {BundleRefused} it cannot be read
 */
export function becameOf(
  carried: CarriedSkill,
  library: Library,
): TakenIn['skills'][number]['became'] | null {
  const { id, version, source, slots } = carried;
  const lexicon: Lexicon = { schema: 1, slots: { ...slots, ...library.lexicon.slots } };
  const skill = parsed(`${id}.yaml`, source, lexicon, library);
  if (skill.id !== id || skill.version !== version)
    throw new BundleRefused('bad skill', `${id}: its file is of ${skill.id}, version ${skill.version}`);
  const now = library.skills.get(id);
  const here = now?.version === version ? now : library.versions.get(id)?.get(version);
  if (!here) return 'kept as a version';
  return isMarkedOtherwise(here, skill) ? 'differs here' : null;
}

function parsed(file: string, source: string, lexicon: Lexicon, { care }: Library): Skill {
  try {
    return parseSkill(file, source, lexicon, care);
  } catch (error) {
    if (!(error instanceof FaultyFile)) throw error;
    throw new BundleRefused('bad skill', error.message.split('\n')[0]);
  }
}
