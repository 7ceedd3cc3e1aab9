/** On whose behalf something is done in the archive; the database shows and takes what is theirs, by its policies. */
export type Who =
  | { readonly role: 'trainee'; readonly account: string; readonly school: string; readonly person: string }
  | { readonly role: 'instructor'; readonly account: string; readonly school: string }
  | { readonly role: 'school'; readonly account: string; readonly school: string }
  | { readonly role: 'station'; readonly station: string; readonly school: string }
  /** Who shows a token, a key or a code: sees the one row that has its hash. */
  | { readonly role: 'door'; readonly secretSha256: string }
  /** Marks the attempts of all schools again; sees no names. */
  | { readonly role: 'worker' }
  /** Keeps the archive running: sees and changes all but the audit log, which it can only read and add to. */
  | { readonly role: 'keeper' };
export type Role = Who['role'];

export const ROLES = [
  'trainee',
  'instructor',
  'school',
  'station',
  'door',
  'worker',
  'keeper',
] as const satisfies readonly Role[];

/** The role of the database that stands for it. A server has one set of roles for all its databases. */
export const roleName = (role: Role): string => `sinkside_${role}`;

/** What the policies read: settings of the transaction, by their names. What is not said is empty. */
export function settingsOf(who: Who): Readonly<Record<string, string>> {
  const { role, ...said } = who;
  const { account = '', school = '', person = '', station = '', secretSha256 = '' }: Partial<Said> = said;
  return {
    role: roleName(role),
    'sinkside.account': account,
    'sinkside.school': school,
    'sinkside.person': person,
    'sinkside.station': station,
    'sinkside.secret': secretSha256,
  };
}

type Said = Record<'account' | 'school' | 'person' | 'station' | 'secretSha256', string>;
