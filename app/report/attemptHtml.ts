import { minutes } from '../marking/testClock.ts';
import { apartBy } from '../skills/tolerance.ts';
import type { AttemptReport, ReadingReport, SkillReport, StepReport } from './attemptReport.ts';
import { html, type Markup } from './markup.ts';
import { pageOf } from './page.ts';
import { counted, momentSays, percent, SIGNS, VERDICTS } from './words.ts';

/** Letters of what was said that are printed for a step, so that two pages hold a skill. The other forms have all. */
const MOST_LETTERS = 110;
/** Steps that are named to be practised next. */
const MOST_STEPS = 5;

/** The report of a rehearsal as one HTML file that works alone, for the screen and for paper. */
export function attemptHtml(report: AttemptReport): string {
  const { skills, test, trainee, startedAt, comments, notes, caution } = report;
  const [only] = skills;
  const what = test ?? only?.title ?? 'Rehearsal';
  const body = html`<h1>${what}: report of a rehearsal</h1>
    <p>
      ${trainee ? html`<bdi>${trainee.name}</bdi>${trainee.class ? html`, <bdi>${trainee.class}</bdi>` : null}` : 'Nobody in particular'};
      ${momentSays(startedAt)}; ${minutes(report.seconds)} long; heard by ${report.engine}
    </p>
    <p class="caution">${caution}</p>
    ${
      notes.length > 0
        ? html`<ul>
            ${notes.map((note) => html`<li>${note}</li>`)}
          </ul>`
        : null
    }
    ${skills.map((skill) => skillHtml(skill, test !== null))}
    ${comments.length > 0 ? commentsHtml(comments) : null}`;
  return pageOf(`${what}, ${trainee?.name ?? 'nobody in particular'}, ${momentSays(startedAt)}`, body);
}

const skillHtml = (skill: SkillReport, isOfTest: boolean): Markup =>
  html`<section class="skill">
    ${isOfTest ? html`<h2>${skill.title}</h2>` : null} ${verdictHtml(skill)}
    <dl>
      ${summaryOf(skill).map(
        ([name, value]) =>
          html`<dt>${name}</dt>
            <dd>${value}</dd>`,
      )}
    </dl>
    ${skill.readings.length > 0 ? readingsHtml(skill.readings) : null}
    <h2>Steps</h2>
    <table class="steps">
      <thead>
        <tr>
          <th scope="col">Step</th>
          <th scope="col">Machine</th>
          ${skill.person ? html`<th scope="col">Person</th>` : null}
        </tr>
      </thead>
      <tbody>
        ${skill.steps.map((step) => stepHtml(step, skill.person !== null))}
      </tbody>
    </table>
  </section>`;

function verdictHtml({ together, person, readings }: SkillReport): Markup {
  const byMachine = readings.some(({ within }) => within !== null)
    ? 'by the machine’s marks and the measured numbers'
    : 'by the machine’s marks';
  const by = person ? 'by the person’s verdicts, and the machine’s marks elsewhere' : byMachine;
  if (together.passed === null)
    return html`<p class="verdict">Only a part was rehearsed: neither passed nor not (${by})</p>`;
  const [kind, words] = together.passed ? ['verdict verdict-passed', 'Passed'] : ['verdict', 'Not passed'];
  return html`<p class="${kind}">${words}, for this practice run (${by})</p>`;
}

type Line = readonly [name: string, value: string];

function summaryOf(skill: SkillReport): Line[] {
  const { machine, person, agreement, signedOff, clocks, counts, toPractise } = skill;
  const textOf = (id: string): string => skill.steps.find((step) => step.id === id)?.text ?? id;
  return [
    ['Machine', `${machine.credited} of ${machine.of} steps heard${missedText(machine.criticalMissed)}`],
    ...(person ? [personLine(person)] : []),
    ...(agreement ? [agreementLine(agreement)] : []),
    ...(person ? [signatureLine(signedOff)] : []),
    ...clocks.map((clock): Line => {
      const { seconds, uncertainty, required, met } = clock;
      const heard = `${seconds.toFixed(1)} s heard, ± ${uncertainty.toFixed(1)} s; ${required} s needed`;
      return ['Time', `${textOf(clock.id)}: ${heard}: ${met ? 'met' : 'not shown to be met'}`];
    }),
    ...counts.map((count): Line => {
      const { required, met } = count;
      const heard = `${count.counted} heard; ${required} needed`;
      return ['Repetitions', `${textOf(count.id)}: ${heard}: ${met ? 'met' : 'not shown to be met'}`];
    }),
    ...talkLines(skill),
    ...(toPractise.length > 0 ? [practiseLine(toPractise)] : []),
    ['Marked by', rulesText(skill)],
  ];
}

const missedText = (criticalMissed: readonly string[]): string =>
  criticalMissed.length > 0 ? `; critical and not credited: ${criticalMissed.join('; ')}` : '';

const personLine = ({ credited, of, criticalMissed }: SkillReport['machine']): Line => [
  'Person',
  `yes to ${credited} of ${of} steps${missedText(criticalMissed)}`,
];

function agreementLine({
  alike,
  of,
  falseCredits,
  misses,
  open,
}: NonNullable<SkillReport['agreement']>): Line {
  const apart = `credited by the machine alone ${falseCredits}, by the person alone ${misses}`;
  const unsure = open > 0 ? `; the person could not tell about ${open}` : '';
  return ['Alike', `${alike} of ${of} steps that both judged; ${apart}${unsure}`];
}

const signatureLine = (signedOff: SkillReport['signedOff']): Line => [
  'Signed off',
  signedOff ? `by ${signedOff.by}, ${momentSays(signedOff.madeAt)}` : 'not yet',
];

function talkLines({ narrated, longestSilence }: SkillReport): Line[] {
  if (narrated === null) return [];
  const silence = longestSilence > 0 ? `; longest silence ${Math.round(longestSilence)} s` : '';
  return [['Talking', `${percent(narrated)} of the time with something to say was narrated${silence}`]];
}

function practiseLine(toPractise: readonly string[]): Line {
  const more = toPractise.length - MOST_STEPS;
  const named = toPractise.slice(0, MOST_STEPS).join('; ');
  return ['Practise next', more > 0 ? `${named}; and ${more} more` : named];
}

function rulesText({ rules, version, variants }: SkillReport): string {
  const how = Object.entries(variants).map(([name, value]) => `, ${name}: ${value}`);
  return `${rules.title}; version ${version} of the skill${how.join('')}. Your programme’s handbook decides.`;
}

const readingsHtml = (readings: readonly ReadingReport[]): Markup =>
  html`<h2>Numbers</h2>
    <table>
      <thead>
        <tr>
          <th scope="col">Step</th>
          <th scope="col">Said</th>
          <th scope="col">Measured</th>
          <th scope="col">Beside each other</th>
        </tr>
      </thead>
      <tbody>
        ${readings.map(
          (reading) =>
            html`<tr>
              <th scope="row">${reading.text}</th>
              <td>${saidText(reading)}</td>
              <td>${measuredText(reading)}</td>
              <td>${comparedText(reading)}</td>
            </tr>`,
        )}
      </tbody>
    </table>`;

function saidText({ said, sure, rivals, unit }: ReadingReport): string {
  if (said === null) return 'no number was heard';
  if (sure) return `${said} ${unit}`;
  return `unsure: ${[said, ...rivals].join(' or ')} ${unit}`;
}

const GIVEN_BY = {
  rehearser: 'given by the trainee or a partner',
  'simulated resident': 'the simulated resident’s',
} as const;

function measuredText({ measured, measuredBy, unit }: ReadingReport): string {
  if (measured === null) return 'not given';
  const by = measuredBy === null || measuredBy === 'reviewer' ? '' : ` (${GIVEN_BY[measuredBy]})`;
  return `${measured} ${unit}${by}`;
}

function comparedText({ said, sure, measured, tolerance, within }: ReadingReport): string {
  if (said === null || measured === null) return 'cannot be compared';
  const apart = `${apartBy(said, measured)} apart`;
  if (tolerance === null) return `${apart}; the rules set no limit`;
  const judged = within ? 'within' : 'beyond';
  return `${apart}; ${judged} the ${tolerance} that the rules allow${sure ? '' : ', if it was heard right'}`;
}

const stepHtml = (step: StepReport, isReviewed: boolean): Markup =>
  html`<tr>
    <th scope="row">
      ${step.critical ? html`<span class="critical">${step.text} (critical)</span>` : step.text}
    </th>
    <td>${machineHtml(step.machine)}</td>
    ${isReviewed ? html`<td>${personHtml(step.person)}</td>` : null}
  </tr>`;

function machineHtml(machine: StepReport['machine']): Markup {
  if (!machine) return html`no such step in this version`;
  const { outcome, manner, at, words, note } = machine;
  const told = manner === 'told' ? ', told, not done' : '';
  const quoted = words === '' ? null : html`“${shortened(words)}” `;
  const when = at === null ? '' : `, ${minutes(at)}`;
  const details = words === '' && note === '' ? null : html`<br /><small>${quoted}${note}</small>`;
  return html`<span aria-hidden="true">${SIGNS[outcome]}</span> ${outcome}${told}${when}${details}`;
}

const shortened = (words: string): string =>
  words.length > MOST_LETTERS ? `${words.slice(0, MOST_LETTERS).trimEnd()} …` : words;

function personHtml(person: StepReport['person']): Markup {
  if (!person) return html`–<br /><small>no verdict</small>`;
  const { verdict, by, reason, heardAt, blind } = person;
  const where = heardAt === null ? '' : `, heard at ${minutes(heardAt)}`;
  const hidden = blind ? ', machine’s mark hidden' : '';
  return html`${VERDICTS[verdict]}<br /><small
      >${by}${where}${hidden}${reason === '' ? null : html`: “${reason}”`}</small
    >`;
}

const commentsHtml = (comments: AttemptReport['comments']): Markup =>
  html`<section>
    <h2>${counted(comments.length, 'comment')}</h2>
    <ul>
      ${comments.map(({ at, by, text }) => html`<li>${minutes(at)} ${by}: ${text}</li>`)}
    </ul>
  </section>`;
