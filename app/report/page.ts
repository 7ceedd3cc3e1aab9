import { html, Markup } from './markup.ts';

/**
 * How reports look, on the screen and on paper. Black on white whatever the scheme of the screen: it is a sheet to hand over.
 * Sizes are in points, so that what fits two pages of A4 or Letter does not depend on the screen.
 */
export const PAGE_STYLE = `
@page { margin: 11mm 12mm; }
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { max-width: 190mm; margin: 8mm auto; padding: 0 4mm; color: #17232a; background: #fff;
  font: 9pt/1.3 'Noto Sans', 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif; }
h1 { margin: 0 0 1mm; font-size: 15pt; line-height: 1.2; }
h2 { margin: 4mm 0 1mm; font-size: 11pt; break-after: avoid; }
p, ul, dl { margin: 1mm 0; }
ul { padding-left: 5mm; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0 4mm; }
dt { color: #4b5962; }
dd { margin: 0; }
dd, td, th, bdi { unicode-bidi: isolate; }
table { width: 100%; margin: 1mm 0; border-collapse: collapse; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { padding: 0.5mm 1.5mm; border-bottom: 0.2mm solid #9aa7ae; text-align: left; vertical-align: top;
  overflow-wrap: anywhere; font-weight: 400; }
thead th { border-bottom: 0.4mm solid #17232a; font-weight: 700; }
small, .small { font-size: 7.5pt; color: #39464e; }
strong, .critical { font-weight: 700; }
.verdict { padding: 1mm 3mm; border-left: 1.2mm solid #ad1f2d; font-size: 11pt; font-weight: 700; }
.verdict-passed { border-color: #0d6b3c; }
.caution { padding: 1mm 3mm; border: 0.3mm solid #17232a; }
.skill + .skill { break-before: page; }
.steps { table-layout: fixed; }
.steps th:first-child { width: 42%; }
.heat th, .heat td { padding: 0.4mm 0.3mm; }
.heat thead th { font-size: 7pt; text-align: center; white-space: nowrap; vertical-align: bottom; }
.heat td { text-align: center; }
:is(.heat, .names) tbody th { min-width: 28mm; }
.heat .why { white-space: nowrap; font-size: 7pt; }
.figure { text-align: right; white-space: nowrap; }
@media print { body { max-width: none; margin: 0; padding: 0; } }
`;

/** The host's policy names its digest, so not a space may be added. */
const STYLE = new Markup(`<style>${PAGE_STYLE}</style>`);

/** What a report may load and run, whatever is written into it: nothing. */
const POLICY = "default-src 'none'; style-src 'unsafe-inline'";

/** One file that works alone: no script, nothing asked of any address. */
export function pageOf(title: string, body: Markup): string {
  const page = html`<html lang="en">
    <head>
      <meta charset="utf-8" />
      <meta http-equiv="Content-Security-Policy" content="${POLICY}" />
      <meta name="viewport" content="width=device-width, initial-scale=1" />
      <title>${title}</title>
      ${STYLE}
    </head>
    <body>
      <main>${body}</main>
    </body>
  </html> `;
  return `<!doctype html>\n${page.text}`;
}
