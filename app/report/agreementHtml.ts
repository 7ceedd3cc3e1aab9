import type { Agreement, Tally } from '../agreement/agreement.ts';
import { html, type Markup } from './markup.ts';
import { pageOf } from './page.ts';
import { counted } from './words.ts';

/** Steps that are listed to be looked at first. */
const LISTED = 10;

/** How far machine and persons agree, as one HTML file that works alone. */
export function agreementHtml(agreement: Agreement, about: string): string {
  const title = 'Agreement of machine and persons';
  const body = html`<h1>${title}</h1>
    <p>${about}</p>
    <p class="caution">${agreement.caution}</p>
    ${agreementParts(agreement)}`;
  return pageOf(title, body);
}

/** The tables of it, to stand in another report as well. */
export function agreementParts(agreement: Agreement): Markup {
  const { attempts, all, critical, blind, bySkill, byEngine, byStep, method } = agreement;
  const faulty = byStep.filter(({ falseCredits, misses }) => falseCredits + misses > 0).slice(0, LISTED);
  return html`<p>
      ${counted(attempts, 'attempt')} reviewed, ${counted(all.judged, 'step')} judged by machine and person;
      ${blind} of them with the machine’s mark hidden until then.
    </p>
    ${tableOf('All and by skill', [
      ['All steps', all],
      ['Critical steps', critical],
      ...bySkill.map((each): Named => [`${each.skill}, version ${each.version}`, each]),
    ])}
    ${tableOf(
      'By what listened',
      byEngine.map((each): Named => [each.engine, each]),
    )}
    ${
      faulty.length > 0
        ? tableOf(
            'Steps to look at first',
            faulty.map((each): Named => [
              `${each.skill}: ${each.text}${each.critical ? ' (critical)' : ''}`,
              each,
            ]),
          )
        : null
    }
    <p class="small">${method}</p>`;
}

type Named = readonly [name: string, tally: Tally];

const tableOf = (title: string, rows: readonly Named[]): Markup =>
  html`<h2>${title}</h2>
    <table>
      <thead>
        <tr>
          <th scope="col">Of</th>
          <th scope="col" class="figure">Judged</th>
          <th scope="col" class="figure">Alike</th>
          <th scope="col" class="figure">Kappa</th>
          <th scope="col" class="figure">95 % interval</th>
          <th scope="col" class="figure">False credits</th>
          <th scope="col" class="figure">Misses</th>
        </tr>
      </thead>
      <tbody>
        ${rows.map(rowOf)}
      </tbody>
    </table>`;

const rowOf = ([name, tally]: Named): Markup =>
  html`<tr>
    <th scope="row">${name}</th>
    <td class="figure">${tally.judged}</td>
    <td class="figure">${figure(tally.observed)}</td>
    <td class="figure">${figure(tally.kappa)}</td>
    <td class="figure">${tally.interval ? tally.interval.map(figure).join(' to ') : 'none'}</td>
    <td class="figure">${tally.falseCredits}</td>
    <td class="figure">${tally.misses}</td>
  </tr>`;

const figure = (value: number | null): string =>
  value === null ? 'none' : value.toFixed(2).replace('-', '−');
