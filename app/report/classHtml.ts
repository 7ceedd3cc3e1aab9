import { STALE_DAYS } from '../progress/nextPractice.ts';
import { agreementParts } from './agreementHtml.ts';
import type { ClassReport, SkillOfClass } from './classReport.ts';
import { html, type Markup } from './markup.ts';
import { pageOf } from './page.ts';
import { counted, momentSays, SIGNS } from './words.ts';

/** Steps missed most that are listed for a skill. */
const LISTED = 5;

/** The report of a class as one HTML file that works alone, for the screen and for paper. */
export function classHtml(report: ClassReport): string {
  const { about, madeAt, attempts, skills, people, agreement, leftOut, caution } = report;
  const body = html`<h1>How a class gets on</h1>
    <p>
      <bdi>${about}</bdi>; ${counted(people.length, 'person', 'people')}, ${counted(attempts, 'attempt')};
      made ${momentSays(madeAt)}
    </p>
    <p class="caution">${caution}</p>
    ${
      leftOut.length > 0
        ? html`<ul>
            ${leftOut.map((reason) => html`<li>Left out: ${reason}</li>`)}
          </ul>`
        : null
    }
    ${skills.length === 0 ? html`<p>Nobody of them has rehearsed any of these skills yet.</p>` : null}
    ${skills.map(skillHtml)} ${people.length > 0 ? nextHtml(people) : null}
    ${
      agreement
        ? html`<section>
            <h2>Agreement of machine and persons</h2>
            ${agreementParts(agreement)}
          </section>`
        : null
    }`;
  return pageOf(`How a class gets on: ${about}`, body);
}

const skillHtml = (skill: SkillOfClass): Markup =>
  html`<section>
    <h2>${skill.title}: ${counted(skill.attempts, 'attempt')}</h2>
    <dl>
      <dt>Missed most</dt>
      <dd>${missedText(skill.missedMost)}</dd>
      <dt>Not tried yet</dt>
      <dd>${skill.notTried.length === 0 ? 'everybody has tried it' : skill.notTried.join(', ')}</dd>
    </dl>
    ${heatHtml(skill)}
  </section>`;

const missedText = (missed: SkillOfClass['missedMost']): string =>
  missed.length === 0
    ? 'no step, in anybody’s last attempt'
    : missed
        .slice(0, LISTED)
        .map(
          ({ text, critical, missed: by, of }) => `${text}${critical ? ' (critical)' : ''}: ${by} of ${of}`,
        )
        .join('; ');

/** Everybody's last attempt: a row a person, a column a step, which the list below names. */
const heatHtml = ({ steps, people }: SkillOfClass): Markup =>
  html`<table class="heat">
      <thead>
        <tr>
          <th scope="col">Last attempt</th>
          ${steps.map(
            ({ text, critical }, i) =>
              html`<th scope="col" title="${text}">${i + 1}${critical ? html`<br />*` : null}</th>`,
          )}
          <th scope="col">Ready</th>
        </tr>
      </thead>
      <tbody>
        ${people.map(
          ({ name, credited, ready, why }) =>
            html`<tr>
              <th scope="row">${name}</th>
              ${steps.map((_, i) => cellHtml(credited[i] ?? null))}
              <td class="why">${ready ? 'ready' : why}</td>
            </tr>`,
        )}
      </tbody>
    </table>
    <p class="small">
      ${SIGNS.heard} credited, ${SIGNS['not heard']} missed, – not judged. * critical. Ready: passed twice in
      a row, the last time within ${STALE_DAYS} days. Not steady: not passed twice in a row yet. Long ago:
      passed, but over ${STALE_DAYS} days ago. It says what practice shows, not what a test will.
    </p>
    <p class="small">
      ${steps.map(({ text, critical }, i) => `${i + 1}${critical ? '*' : ''} ${text}`).join('; ')}
    </p>`;

function cellHtml(credited: boolean | null): Markup {
  if (credited === null) return html`<td>–</td>`;
  return html`<td>${credited ? SIGNS.heard : SIGNS['not heard']}</td>`;
}

const nextHtml = (people: ClassReport['people']): Markup =>
  html`<section>
    <h2>What to practise next</h2>
    <table class="names">
      <thead>
        <tr>
          <th scope="col">Who</th>
          <th scope="col" class="figure">Attempts</th>
          <th scope="col">Next</th>
        </tr>
      </thead>
      <tbody>
        ${people.map(
          ({ name, attempts, next }) =>
            html`<tr>
              <th scope="row">${name}</th>
              <td class="figure">${attempts}</td>
              <td>
                ${next.length === 0 ? 'nothing presses' : next.map(({ title, reason }) => html`<div>${title}: ${reason}</div>`)}
              </td>
            </tr>`,
        )}
      </tbody>
    </table>
  </section>`;
