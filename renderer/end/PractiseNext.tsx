import type { Lexicon } from '../../app/skills/skill.ts';
import { sayingFor, type Practice } from '../room/endView.ts';
import { MarkItem } from './MarkItem.tsx';
import type { Sound } from './sound.ts';

/** What to practise next: at most a few steps, each with what to say. */
export function PractiseNext({
  next,
  lexicon,
  sound,
  several = false,
}: {
  readonly next: readonly Practice[];
  readonly lexicon: Lexicon;
  readonly sound?: Sound;
  /** Whether the steps may be of several skills. */
  readonly several?: boolean;
}) {
  return (
    <section className="practise" aria-label="Practise next">
      <h2>Practise next</h2>
      {next.length === 0 && (
        <p>Every step that words can show was heard. Say it all once more another day.</p>
      )}
      <ol className="marks">
        {next.map(({ checklist, mark }) => (
          <MarkItem
            key={`${checklist.skill.id} ${mark.id}`}
            mark={mark}
            saying={sayingFor(checklist, lexicon, mark)}
            {...(several && { skill: checklist.skill.title })}
            {...(sound && { sound })}
          />
        ))}
      </ol>
    </section>
  );
}
