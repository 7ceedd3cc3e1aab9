import { describeVoiceOverNoise, MAY_EXPLAIN } from '../../loudness/voiceOverNoise.ts';
import type { Assessment, StepMark, VoiceOverNoise } from '../../marking/assessment.ts';
import type { Checklist } from '../../skills/checklist.ts';
import type { RehearsalEvent } from '../../marking/events.ts';
import { minutes } from '../../marking/testClock.ts';
import type { Aside } from '../../marking/state.ts';
import { SIGNS } from '../../report/words.ts';
import { HABITS, habitOf } from '../../run/talk.ts';
import type { TestDocument } from './testDocument.ts';

/** The marked result as text for a terminal: what went wrong first, the critical steps first of all. */
export function describeAssessment(a: Assessment): string {
  const variants = Object.entries(a.skill.variants).map(([k, v]) => `${k}: ${v}`);
  const lines = [`${a.skill.title}${variants.length > 0 ? ` (${variants.join(', ')})` : ''}`, ''];
  for (const step of a.steps) lines.push(...describeStep(step));
  lines.push('');
  for (const clock of a.clocks) {
    lines.push(
      `Clock ${clock.id}: ${clock.seconds.toFixed(1)} s ± ${clock.uncertainty.toFixed(1)} s of ${clock.required} s ` +
        `needed: ${clock.met ? 'met' : 'not met'}`,
    );
  }
  for (const count of a.counts) {
    lines.push(`Count ${count.id}: ${count.counted} of ${count.required}: ${count.met ? 'met' : 'not met'}`);
  }
  for (const reading of a.readings) {
    const doubt = reading.sure
      ? ''
      : ` (not sure${reading.rivals.length > 0 ? `: or ${reading.rivals.join(', ')}` : ''})`;
    lines.push(`Reading ${reading.id}: ${reading.value} ${reading.unit}${doubt}`);
  }
  const { passed, heard, of, criticalMissed } = a.result;
  const habit = habitOf(a.steps);
  lines.push(
    `${passed ? 'PASSED' : 'NOT PASSED'} for this practice run: ${heard} of ${of} steps heard` +
      (criticalMissed.length > 0 ? `; critical steps not credited: ${criticalMissed.join(', ')}` : ''),
    ...(habit ? [HABITS[habit]] : []),
    ...describeNoise(a.voiceOverNoise, a.steps),
    ...a.warnings.map((w) => `Note: ${w}`),
    '',
    a.caution,
    '',
  );
  return lines.join('\n');
}

/** How loud the tap was and what that may explain; nothing where it was not measured. */
function describeNoise(measured: VoiceOverNoise | null, steps: readonly StepMark[]): string[] {
  if (!measured) return [];
  const missed = steps.filter(({ id }) => measured.explains.includes(id));
  return [
    describeVoiceOverNoise(measured).join(' '),
    ...(missed.length > 0 ? [MAY_EXPLAIN, ...missed.map(({ text }) => `  ${text}`)] : []),
  ];
}

/** A mock test as text for a terminal. */
export function describeTest(t: TestDocument): string {
  const lines: string[] = [];
  t.skills.forEach((skill, i) => {
    const span =
      skill.from === null ? 'not reached' : `${minutes(skill.from)}–${minutes(skill.to ?? skill.from)}`;
    const { passed, heard, of, criticalMissed } = skill.result;
    lines.push(`${i + 1}. ${skill.title} (${span})`, '');
    if (skill.reached) {
      for (const step of skill.steps) lines.push(...describeStep(step));
      lines.push('');
      for (const { step, evidence } of skill.late)
        lines.push(
          `Too late, the skill was closed: ${step}, at ${minutes(evidence.start)} “${evidence.text}”`,
        );
      for (const { from, to } of skill.pauses) lines.push(`Paused from ${minutes(from)} to ${minutes(to)}`);
      for (const at of skill.breaks) lines.push(`Broken off at ${minutes(at)} and gone on with`);
      lines.push(
        `${passed ? 'Passed' : 'Not passed'}: ${heard} of ${of} steps heard` +
          (criticalMissed.length > 0 ? `; critical steps not credited: ${criticalMissed.join(', ')}` : ''),
        ...describeNoise(skill.voiceOverNoise, skill.steps),
      );
    }
    lines.push('');
  });
  const { passed, passedSkills, needed, timeUp } = t.result;
  lines.push(
    `${passed ? 'PASSED' : 'NOT PASSED'} for this practice test: ${passedSkills} of ${t.skills.length} skills passed, ` +
      `${needed} needed${timeUp === null ? '' : `; the time was up at ${minutes(timeUp)}`}`,
    `Rules in force: ${t.rules.title}. They are this program's own; your programme's handbook decides.`,
    ...t.warnings.map((w) => `Note: ${w}`),
    '',
    t.caution,
    '',
  );
  return lines.join('\n');
}

function describeStep(step: StepMark): string[] {
  const at = step.at === null ? '     ' : minutes(step.at).padStart(5);
  const name = `${step.text}${step.critical ? ' [critical]' : ''}`;
  const saying = step.evidence ? `“${step.evidence.text}”` : '';
  const line = `${SIGNS[step.outcome]} ${at}  ${name}${step.outcome === 'heard' ? '' : ` — ${step.outcome}`}${step.manner === 'told' ? ' — told, not done' : ''}`;
  const detail = [saying, step.note].filter((part) => part !== '').join('  ');
  return detail === '' ? [line] : [line, `         ${detail}`];
}

const ASIDES: Readonly<Record<Aside['why'], string>> = {
  echo: "the coach's own voice",
  paused: 'in a pause',
  command: 'to the coach',
  bench: 'to an instrument',
};

const CLOCK_MOVES = {
  start: 'starts',
  on: 'runs on',
  halt: 'halts',
  stop: 'stops',
  doubt: 'may have stopped',
} as const;

/** One line for each event worth showing while it happens. */
export function describeEvents(events: readonly RehearsalEvent[], { steps }: Checklist): string[] {
  const text = (id: string): string => steps.find((s) => s.id === id)?.text ?? id;
  return events.flatMap((event): string[] => {
    switch (event.type) {
      case 'heard':
        return [`${minutes(event.utterance.start).padStart(5)}    “${event.utterance.text}”`];
      case 'credited':
        return [
          `      ${SIGNS.heard} ${text(event.step)}${event.manner === 'told' ? ' (told, not done)' : ''}`,
        ];
      case 'carried':
        return [`      ${SIGNS.heard} ${text(event.step)} (carried over)`];
      case 'doubted':
        return [`      ${SIGNS.unsure} ${text(event.step)} (unsure)`];
      case 'noted':
        return [`      · ${text(event.step)}: ${event.stance}, not credited`];
      case 'clock':
        return [`      ◔ ${text(event.step)}: clock ${CLOCK_MOVES[event.move]}`];
      case 'movement':
        return event.form === 'named' || event.form === 'announced' ? [] : [`      ↻ ${text(event.step)}`];
      case 'repetition':
        return [`      ↻ ${event.count === 'again' ? 'again' : `count ${event.count}`}`];
      case 'reading':
        return [`      # ${text(event.step)}: ${event.value}${event.sure ? '' : ' (not sure)'}`];
      case 'read back':
        return [];
      case 'confirmed':
        return [`      ✓ ${text(event.step)}: the number was confirmed`];
      case 'taken back':
        return [`      ↶ ${text(event.step)}: the number was taken back`];
      case 'aside':
        return [
          `${minutes(event.utterance.start).padStart(5)}    “${event.utterance.text}” (${ASIDES[event.why]})`,
        ];
      case 'commanded':
        return [`      » ${event.command}`];
      case 'paused':
        return ['      ‖ paused'];
      case 'resumed':
        return ['      ▸ going on'];
      case 'tentative':
        return [`      … ${text(event.step)}`];
      case 'withdrawn':
        return [`      ↶ ${text(event.step)}: taken back, it was not heard after all`];
      case 'spoke':
        return [`${minutes(event.from).padStart(5)}    coach: “${event.text}”`];
      case 'repaired':
        return [`      ✎ ${text(event.step)}: put right, it was ${event.slip}`];
      case 'late':
        return [`      ✗ too late for a skill that is closed: “${event.evidence.text}”`];
      case 'time up':
        return [`${minutes(event.at).padStart(5)}    the time is up`];
      case 'met':
      case 'handled':
      case 'drawn':
      case 'moved on':
      case 'began':
      case 'joint':
      case 'loudness':
      case 'reviewed':
      case 'measured':
      case 'commented':
      case 'signed off':
      case 'ended':
        return [];
    }
  });
}
