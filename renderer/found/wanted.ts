import { z } from 'zod';
import type { Finding } from '../../app/host/api.ts';

const day = z.union([z.literal(''), z.iso.date()]).catch('');

/** Which rehearsals are looked for; empty fields ask for nothing. */
const WantedSchema = z.object({
  /** Id of a skill. */
  skill: z.string().default(''),
  /** Name of a class. */
  class: z.string().default(''),
  /** First and last day, as "2026-03-09", in this machine's time. */
  from: day.default(''),
  to: day.default(''),
});
export type Wanted = Readonly<z.infer<typeof WantedSchema>>;

/** Reads what is wanted from its part of an address. What is no field, or no day, asks for nothing. */
export const wantedIn = (text = ''): Wanted =>
  WantedSchema.parse(Object.fromEntries(new URLSearchParams(text)));

/** What is wanted as a part of an address; empty where nothing is. */
export const asText = (wanted: Wanted): string =>
  new URLSearchParams(Object.entries(wanted).filter(([, value]) => value !== '')).toString();

/** What is wanted, as the host is asked for it: days become moments. */
export const findingOf = ({ skill, class: name, from, to }: Wanted): Finding => ({
  skill,
  class: name,
  from: from === '' ? null : startOf(from, 0),
  to: to === '' ? null : startOf(to, 1),
});

/** Whether something began within the days that are wanted. */
export function isWithin({ from, to }: Wanted): (begun: { readonly startedAt: string }) => boolean {
  const first = from === '' ? -Infinity : Date.parse(startOf(from, 0));
  const end = to === '' ? Infinity : Date.parse(startOf(to, 1));
  return ({ startedAt }) => Date.parse(startedAt) >= first && Date.parse(startedAt) < end;
}

/** The moment at which a day begins here, or so many days later, in UTC. */
function startOf(date: string, later: number): string {
  const [year = 0, month = 1, number = 1] = date.split('-').map(Number);
  return new Date(year, month - 1, number + later).toISOString();
}
