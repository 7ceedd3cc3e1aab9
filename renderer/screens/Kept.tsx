import { useEffect, useState } from 'react';
import { Link, useLocation } from 'wouter';
import { loudnessWithin } from '../../app/loudness/voiceOverNoise.ts';
import { markTest } from '../../app/run/mockTest.ts';
import { byItself, openSkill } from '../../app/run/runState.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { ADDRESS } from '../addresses.ts';
import { measuredInTest } from '../end/measuredInTest.ts';
import { useJournal } from '../end/useMeasured.ts';
import { openKept, type Outcome } from '../kept.ts';
import { useKnown } from '../known.tsx';
import { Heading } from '../parts/Heading.tsx';
import { useRehearsing } from '../rehearsing.tsx';
import { End } from './End.tsx';
import { TestEnd } from './TestEnd.tsx';

/** What a rehearsal came to: the one that just ended as it was heard, any other as the host keeps it. */
export function Kept({
  id,
  skill,
}: {
  readonly id: string;
  /** Index of one skill of a mock test; null for the whole. */
  readonly skill: number | null;
}) {
  const { ended } = useRehearsing();
  const isLast = ended !== null && ADDRESS.rehearsal(ended.id) === ADDRESS.rehearsal(id);
  const { outcome, failed } = useKept(isLast ? null : id);
  const shown = isLast ? ended : outcome;
  if (failed !== '')
    return (
      <main className="page">
        <Heading>This rehearsal cannot be shown</Heading>
        <p role="alert">{failed}</p>
        <p>
          <Link href={ADDRESS.progress}>See the rehearsals there are.</Link>
        </p>
      </main>
    );
  if (!shown) return <p className="opening">Opening…</p>;
  if (shown.of === 'skill') return <OfSkill outcome={shown} back={isLast ? 'start' : 'past'} />;
  if (skill !== null) return <SkillOfTest outcome={shown} skill={skill} />;
  return <OfTest outcome={shown} back={isLast ? 'start' : 'past'} />;
}

function useKept(id: string | null): { outcome: Outcome | null; failed: string } {
  const { library } = useKnown();
  const [outcome, setOutcome] = useState<Outcome | null>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => {
    if (id === null) return;
    let wanted = true;
    openKept(id, library).then(
      (opened) => wanted && setOutcome(opened),
      (error: unknown) => wanted && setFailed(messageOf(error)),
    );
    return () => {
      wanted = false;
    };
  }, [id, library]);
  return { outcome, failed };
}

const WHERE = { start: ADDRESS.home, past: ADDRESS.progress } as const;

function OfSkill({
  outcome,
  back,
}: {
  readonly outcome: Outcome & { of: 'skill' };
  readonly back: 'start' | 'past';
}) {
  const { library } = useKnown();
  const { start } = useRehearsing();
  const [, navigate] = useLocation();
  const { checklist, state, only, id, hasSound, loudness, listening, remarks } = outcome;
  return (
    <End
      checklist={checklist}
      lexicon={library.lexicon}
      state={state}
      loudness={loudness}
      listening={listening}
      only={only}
      id={hasSound ? id : null}
      record={id}
      recorded={id === null ? null : { id, skill: 0 }}
      current={library.skills.find((skill) => skill.id === checklist.skill.id)}
      remarks={remarks}
      onAgain={(some) => start(checklist.skill, checklist.variants, some)}
      onBack={() => navigate(WHERE[back])}
      back={back}
    />
  );
}

function OfTest({
  outcome,
  back,
}: {
  readonly outcome: Outcome & { of: 'test' };
  readonly back: 'start' | 'past';
}) {
  const { startTest } = useRehearsing();
  const [, navigate] = useLocation();
  const { plan, test, id, remarks } = outcome;
  const journal = useJournal(id) ?? [];
  return (
    <TestEnd
      lexicon={useKnown().library.lexicon}
      plan={plan}
      result={markTest(plan.checklists, plan.rules, test, measuredInTest(plan, test, journal))}
      id={id}
      isCutOff={openSkill(test) !== null}
      remarks={remarks}
      onOpen={(skill) => navigate(ADDRESS.skillOfTest(id, skill))}
      onAgain={() => startTest(plan)}
      onBack={() => navigate(WHERE[back])}
      back={back}
    />
  );
}

function SkillOfTest({
  outcome,
  skill,
}: {
  readonly outcome: Outcome & { of: 'test' };
  readonly skill: number;
}) {
  const { library } = useKnown();
  const { start } = useRehearsing();
  const [, navigate] = useLocation();
  const { plan, test, id, hasSound, loudness, listening } = outcome;
  const [checklist, run] = [plan.checklists[skill], test.runs[skill]];
  if (!checklist || !run)
    return (
      <main className="page">
        <Heading>This skill was not reached</Heading>
        <p>
          <Link href={ADDRESS.rehearsal(id)}>Back to the test</Link>
        </p>
      </main>
    );
  return (
    <End
      checklist={checklist}
      lexicon={library.lexicon}
      state={byItself(run)}
      loudness={loudnessWithin(loudness, { from: run.from, to: run.to ?? Infinity })}
      listening={listening}
      only={null}
      id={hasSound ? id : null}
      // The journal of a test holds other skills as well.
      record={null}
      recorded={id === null ? null : { id, skill }}
      current={library.skills.find(({ id: each }) => each === checklist.skill.id)}
      remarks={[]}
      onAgain={(some) => start(checklist.skill, checklist.variants, some)}
      onBack={() => navigate(ADDRESS.rehearsal(id))}
      back="test end"
    />
  );
}
