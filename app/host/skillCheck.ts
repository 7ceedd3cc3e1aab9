import { readJudge, type PackagedFiles } from '../engines/packaged.ts';
import type { Judge } from '../meaning/judge.ts';
import type { Library } from '../library/library.ts';
import { knownVariants, makeChecklist, type Checklist } from '../skills/checklist.ts';
import { FaultyFile } from '../faults/faults.ts';
import { lintSkill, type Warning } from '../authoring/lint.ts';
import type { Lexicon } from '../skills/skill.ts';
import { parseSkill } from '../authoring/skillFile.ts';
import { BEFORE } from '../marking/state.ts';
import { tryPhrase } from '../authoring/tryPhrase.ts';
import { heardClearly, type Utterance } from '../language/utterance.ts';
import type { CheckedSkill } from './api.ts';

/**
 * Tells what a skill's text and a sentence said in it are worth. The text last looked at is not gone through again for another
 * sentence.
 */
export function checker(library: Library, packaged: PackagedFiles) {
  let last: { lexicon: Lexicon; source: string; warnings: Warning[] } | null = null;
  /** Opened with the first sentence; a judge that cannot be had leaves the rules alone. */
  let judge: Promise<Judge | null> | null = null;
  const judgedBy = async (checklist: Checklist, phrase: string): Promise<Utterance['judged']> => {
    judge ??= openJudge(packaged).catch(() => null);
    const opened = await judge;
    await opened?.expect(checklist.steps);
    return (await opened?.judge(heardClearly(0, phrase, 0), ''))?.judged;
  };
  return async (
    source: string,
    phrase: string,
    variants: Readonly<Record<string, string>>,
  ): Promise<CheckedSkill> => {
    const { lexicon, care, rules } = library;
    try {
      const skill = parseSkill(FILE, source, lexicon, care);
      if (last?.source !== source || last.lexicon !== lexicon)
        last = { lexicon, source, warnings: lintSkill(FILE, source, lexicon, care) };
      const { warnings } = last;
      if (phrase.trim() === '') return { faults: [], warnings, tried: null };
      // The page may still name a variant that was just taken out of the text.
      const checklist = makeChecklist(skill, lexicon, rules, knownVariants(skill, variants));
      return {
        faults: [],
        warnings,
        tried: tryPhrase(checklist, phrase, BEFORE, await judgedBy(checklist, phrase)),
      };
    } catch (error) {
      if (!(error instanceof FaultyFile)) throw error;
      return { faults: [...error.faults], warnings: [], tried: null };
    }
  };
}

/** With its runtime, which is loaded only when a sentence is tried. */
async function openJudge(packaged: PackagedFiles): Promise<Judge> {
  const [{ Judge }, files] = await Promise.all([import('../meaning/judge.ts'), readJudge(packaged)]);
  return Judge.open(files);
}

/** What the text that is being written is called in its faults. */
const FILE = 'skill.yaml';
