import type { Outcome } from '../../app/marking/assessment.ts';
import type { RowState } from '../room/roomView.ts';

export type Mark = RowState | Outcome;

/** What each shape means, for who cannot see it. */
export const MEANING: Readonly<Record<Mark, string>> = {
  open: 'open',
  'not heard': 'not heard',
  tentative: 'heard, not settled yet',
  withdrawn: 'taken back',
  running: 'clock running',
  short: 'not enough yet',
  unsure: 'unsure',
  'out of order': 'out of order',
  heard: 'heard',
  'needs eyes': 'needs eyes',
};

/** A mark as a shape of its own: it can be told without its colour. */
export function Shape({ mark, title }: { readonly mark: Mark; readonly title?: string }) {
  const label = title ?? MEANING[mark];
  return (
    <svg
      className={`shape shape-${mark.replaceAll(' ', '-')}`}
      viewBox="0 0 32 32"
      role="img"
      aria-label={label}
    >
      {DRAWN[mark]}
    </svg>
  );
}

const ring = <circle className="edge" cx="16" cy="16" r="13" />;
const tick = <path className="line" d="M9.5 16.5l4.5 4.5 8.5-10" />;

const DRAWN: Readonly<Record<Mark, React.JSX.Element>> = {
  heard: (
    <>
      <circle className="fill" cx="16" cy="16" r="14" />
      {tick}
    </>
  ),
  tentative: (
    <>
      <circle className="edge dashed" cx="16" cy="16" r="13" />
      {tick}
    </>
  ),
  withdrawn: (
    <>
      {ring}
      <path className="line" d="M13 9l-5 5 5 5M8 14h10a5 5 0 0 1 0 10h-3" />
    </>
  ),
  running: (
    <>
      {ring}
      <path className="line" d="M16 8v8l6 4" />
    </>
  ),
  short: (
    <>
      {ring}
      <path className="fill" d="M16 3a13 13 0 0 0 0 26z" />
    </>
  ),
  unsure: (
    <>
      <path className="fill" d="M16 1l15 15-15 15L1 16z" />
      <path className="line" d="M12 13a4 4 0 1 1 5.5 3.6c-1.2.6-1.5 1.2-1.5 2.6M16 23v.5" />
    </>
  ),
  'out of order': (
    <>
      <rect className="fill" x="2" y="2" width="28" height="28" rx="4" />
      <path className="line" d="M11 24V9m-4 4l4-4 4 4M21 8v15m-4-4l4 4 4-4" />
    </>
  ),
  'not heard': (
    <>
      {ring}
      <path className="line" d="M11 11l10 10M21 11L11 21" />
    </>
  ),
  open: ring,
  'needs eyes': (
    <>
      <path className="edge" d="M2 16c5-9 23-9 28 0-5 9-23 9-28 0z" />
      <circle className="fill" cx="16" cy="16" r="5" />
    </>
  ),
};
