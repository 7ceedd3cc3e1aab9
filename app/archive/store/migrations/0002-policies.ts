import { sql, type Kysely, type Migration } from 'kysely';
import { ROLES, roleName, type Role } from '../who.ts';

/**
 * Who sees and changes which rows. Each role may do what stands here and nothing else; row-level security holds for the tables'
 * owner as well. What the policies read of who asks are settings of the transaction (see `settingsOf`).
 */
export const policies: Migration = {
  async up(db: Kysely<unknown>) {
    for (const statement of STATEMENTS) await sql.raw(statement).execute(db);
  },
};

/** What may be done, to which rows (a condition), and where not all columns are meant, to which. */
export type Right = readonly [
  command: 'select' | 'insert' | 'update' | 'delete',
  rows: string,
  columns?: string | null,
];
export type Rights = Partial<Record<Role, readonly Right[]>>;

const setting = (name: string, type: string): string =>
  // In a subquery it is looked up once, not once a row.
  `(select nullif(current_setting('sinkside.${name}', true), '')::${type})`;
const ACCOUNT = setting('account', 'uuid');
const PERSON = setting('person', 'uuid');
const SECRET = setting('secret', 'text');
const STATION = setting('station', 'uuid');
export const SCHOOL = setting('school', 'uuid');

/** All rows. See `policyOf`. */
export const ALL = 'all';
export const OF_MY_SCHOOL = `school_id = ${SCHOOL}`;
const PROGRAMS_OR_MY_SCHOOLS = `${SCHOOL} is not null and (school_id is null or ${OF_MY_SCHOOL})`;
// A role sees of the inner table only what that table's own policy shows it. Written as a value, the inner query looks up one row by its
// id; as "in" or "exists" it may read all rows that the role sees.
export const OF_MY_CLASSES = `class_id in (select class_id from account_classes)`;
const OF_A_CLASS_I_SEE = `(select true from classes where classes.id = class_id)`;
export const OF_A_PERSON_I_SEE = `(select true from people where people.id = person_id)`;
export const OF_AN_ATTEMPT_I_SEE = `(select true from attempts where attempts.id = attempt_id)`;
const OF_A_STATION_I_SEE = `(select true from stations where stations.id = station_id)`;
const OF_AN_ACCOUNT_I_SEE = `(select true from accounts where accounts.id = account_id)`;
const MY_OWN = `station_id = ${STATION}`;
const TAKEN_FROM_ME = [
  MY_OWN,
  OF_MY_SCHOOL,
  `(person_id is null or ${OF_A_PERSON_I_SEE})`,
  `(class_id is null or ${OF_A_CLASS_I_SEE})`,
].join(' and ');

// Not the hash of the token, the key or the code.
const OPEN_ACCOUNT = 'id, school_id, role, name, person_id, made_at, revoked_at';
const OPEN_STATION = 'id, school_id, name, enrolled_at, revoked_at, last_seen_at';
const OPEN_ENROLMENT = 'school_id, station_name, ends_at, station_id';

export const reads = (rows: string, columns: string | null = null): readonly Right[] => [
  ['select', rows, columns],
];
export const changes = (rows: string): readonly Right[] => [
  ['select', rows],
  ['insert', rows],
  ['update', rows],
  ['delete', rows],
];

const MANAGES_TRAINEES_ACCOUNTS = `role = 'trainee' and ${OF_MY_SCHOOL} and ${OF_A_PERSON_I_SEE}`;
const CHANGED_OF_ACCOUNT = 'name, token_sha256, revoked_at';
const manages = (rows: string): readonly Right[] => [
  ['select', rows, OPEN_STATION],
  ['update', rows, 'name, revoked_at'],
];
const enrols: readonly Right[] = [
  ['select', OF_MY_SCHOOL, OPEN_ENROLMENT],
  ['insert', OF_MY_SCHOOL],
  ['delete', OF_MY_SCHOOL],
];
const deletes: readonly Right[] = [
  ['select', OF_A_STATION_I_SEE],
  ['insert', OF_A_STATION_I_SEE],
];
const logs = (rows: string): Right => ['insert', rows];
const reviews: readonly Right[] = [
  ['select', OF_AN_ATTEMPT_I_SEE],
  ['update', OF_AN_ATTEMPT_I_SEE, 'review'],
];
/** An attempt, and whoever may delete it may sign it off. */
const judges = (rows: string): readonly Right[] => [
  ['select', rows],
  ['update', rows, 'signed_off'],
  ['delete', rows],
];

const RIGHTS: Readonly<Record<string, Rights>> = {
  schools: {
    trainee: reads(`id = ${SCHOOL}`),
    instructor: reads(`id = ${SCHOOL}`),
    school: reads(`id = ${SCHOOL}`),
    station: reads(`id = ${SCHOOL}`),
  },
  classes: {
    trainee: reads(`id in (select class_id from people)`),
    instructor: reads(`id in (select class_id from account_classes)`),
    school: [
      ['select', OF_MY_SCHOOL],
      ['insert', OF_MY_SCHOOL],
      ['update', OF_MY_SCHOOL, 'name'],
    ],
    station: [
      ['select', OF_MY_SCHOOL],
      ['insert', OF_MY_SCHOOL],
    ],
  },
  people: {
    trainee: reads(`id = ${PERSON}`),
    instructor: [
      ['select', OF_MY_CLASSES],
      ['update', OF_MY_CLASSES, 'name'],
      ['delete', OF_MY_CLASSES],
    ],
    school: [
      ['select', OF_MY_SCHOOL],
      ['update', OF_MY_SCHOOL, 'name'],
      ['delete', OF_MY_SCHOOL],
    ],
    // A station knows the names of its own people, and of nobody else.
    station: [
      ['select', OF_MY_SCHOOL, 'id, school_id, class_id'],
      ['insert', `${OF_MY_SCHOOL} and (class_id is null or ${OF_A_CLASS_I_SEE})`],
    ],
  },
  accounts: {
    trainee: reads(`id = ${ACCOUNT}`, OPEN_ACCOUNT),
    instructor: [
      ['select', `id = ${ACCOUNT} or ${OF_A_PERSON_I_SEE}`, OPEN_ACCOUNT],
      ['insert', MANAGES_TRAINEES_ACCOUNTS],
      ['update', MANAGES_TRAINEES_ACCOUNTS, CHANGED_OF_ACCOUNT],
    ],
    school: [
      ['select', OF_MY_SCHOOL, OPEN_ACCOUNT],
      ['insert', `${OF_MY_SCHOOL} and (person_id is null or ${OF_A_PERSON_I_SEE})`],
      ['update', OF_MY_SCHOOL, CHANGED_OF_ACCOUNT],
    ],
    door: reads(`token_sha256 = ${SECRET} and revoked_at is null`),
  },
  account_classes: {
    instructor: reads(`account_id = ${ACCOUNT}`),
    school: [
      ['select', OF_AN_ACCOUNT_I_SEE],
      ['insert', `${OF_AN_ACCOUNT_I_SEE} and ${OF_A_CLASS_I_SEE}`],
      ['delete', OF_AN_ACCOUNT_I_SEE],
    ],
  },
  stations: {
    instructor: manages(OF_MY_SCHOOL),
    school: manages(OF_MY_SCHOOL),
    station: [
      ['select', `id = ${STATION}`, OPEN_STATION],
      ['update', `id = ${STATION}`, 'last_seen_at, revoked_at'],
    ],
    door: [
      ['select', `key_sha256 = ${SECRET} and revoked_at is null`],
      [
        'insert',
        `exists (select from enrolments e where e.school_id = stations.school_id and e.station_id is null and e.ends_at > now())`,
      ],
    ],
  },
  enrolments: {
    instructor: enrols,
    school: enrols,
    door: [
      ['select', `code_sha256 = ${SECRET}`],
      ['update', `code_sha256 = ${SECRET}`, 'station_id'],
    ],
  },
  skills: {
    trainee: reads(PROGRAMS_OR_MY_SCHOOLS),
    instructor: reads(PROGRAMS_OR_MY_SCHOOLS),
    school: reads(PROGRAMS_OR_MY_SCHOOLS),
    station: [
      ['select', PROGRAMS_OR_MY_SCHOOLS],
      ['insert', OF_MY_SCHOOL],
    ],
    worker: reads(ALL),
  },
  steps: {
    trainee: reads(PROGRAMS_OR_MY_SCHOOLS),
    instructor: reads(PROGRAMS_OR_MY_SCHOOLS),
    school: reads(PROGRAMS_OR_MY_SCHOOLS),
    station: [
      ['select', PROGRAMS_OR_MY_SCHOOLS],
      ['insert', OF_MY_SCHOOL],
    ],
    worker: [
      ['select', ALL],
      ['insert', ALL],
    ],
  },
  attempts: {
    trainee: reads(`person_id = ${PERSON}`),
    instructor: judges(OF_MY_CLASSES),
    school: judges(OF_MY_SCHOOL),
    station: [
      ['select', MY_OWN],
      ['insert', TAKEN_FROM_ME],
      ['update', TAKEN_FROM_ME],
      ['delete', MY_OWN],
    ],
    worker: [
      ['select', ALL],
      ['update', ALL, 'version, passed, heard, of, critical_missed, marked_by'],
    ],
  },
  journals: {
    // What persons said of it is not for the trainee.
    trainee: reads(OF_AN_ATTEMPT_I_SEE, 'attempt_id, events'),
    instructor: reviews,
    school: reviews,
    station: changes(OF_AN_ATTEMPT_I_SEE),
    worker: reads(ALL, 'attempt_id, events'),
  },
  marks: {
    trainee: reads(OF_AN_ATTEMPT_I_SEE),
    instructor: reads(OF_AN_ATTEMPT_I_SEE),
    school: reads(OF_AN_ATTEMPT_I_SEE),
    station: changes(OF_AN_ATTEMPT_I_SEE),
    worker: changes(ALL),
  },
  reviews: {
    instructor: changes(OF_AN_ATTEMPT_I_SEE),
    school: changes(OF_AN_ATTEMPT_I_SEE),
    station: changes(OF_AN_ATTEMPT_I_SEE),
    worker: reads(ALL),
  },
  parts: {
    trainee: reads(`exists (select from attempt_parts p where p.sha256 = parts.sha256)`),
    instructor: reads(`exists (select from attempt_parts p where p.sha256 = parts.sha256)`),
    school: reads(`exists (select from attempt_parts p where p.sha256 = parts.sha256)`),
    station: [['insert', ALL]],
    worker: reads(ALL),
  },
  attempt_parts: {
    trainee: reads(OF_AN_ATTEMPT_I_SEE),
    instructor: reads(OF_AN_ATTEMPT_I_SEE),
    school: reads(OF_AN_ATTEMPT_I_SEE),
    station: changes(OF_AN_ATTEMPT_I_SEE),
    worker: reads(ALL),
  },
  copies: {
    station: changes(`${MY_OWN} and ${OF_MY_SCHOOL}`),
  },
  deletions: {
    instructor: deletes,
    school: deletes,
    station: [
      ['select', MY_OWN],
      ['insert', MY_OWN],
      ['update', MY_OWN, 'told_station_at'],
    ],
  },
  audit_log: {
    trainee: [logs(OF_MY_SCHOOL)],
    instructor: [logs(OF_MY_SCHOOL)],
    school: [logs(OF_MY_SCHOOL), ['select', OF_MY_SCHOOL]],
    station: [logs(OF_MY_SCHOOL)],
    worker: [logs(`school_id is null`)],
  },
};

/** The keeper's, on every table; nobody may change what the audit log says. */
const keepersOf = (table: string): readonly Right[] =>
  changes(ALL).filter(([command]) => table !== 'audit_log' || command === 'select' || command === 'insert');

const STATEMENTS = [
  ...ROLES.flatMap((role) => [
    // Another database of the same server may have it, or make it at this moment.
    `do $$ begin create role ${roleName(role)} nologin; exception when duplicate_object or unique_violation then null; end $$`,
    `grant ${roleName(role)} to current_user`,
  ]),
  ...policiesOf(RIGHTS),
  `grant select on kysely_migration to ${roleName('keeper')}`,
  // A function that must see rows of everybody (security definer) is made the keeper's: `alter function … owner to sinkside_keeper`.
  `grant create on schema public to ${roleName('keeper')}`,
];

/** What has the database hold to the rights of some tables, and keep everybody else out. */
export function policiesOf(tables: Readonly<Record<string, Rights>>): string[] {
  return Object.entries(tables).flatMap(([table, rights]) => [
    `alter table ${table} enable row level security, force row level security`,
    ...Object.entries({ ...rights, keeper: keepersOf(table) }).flatMap(([role, its]) =>
      its.flatMap((right) => policyOf(table, role, right)),
    ),
  ]);
}

export function policyOf(table: string, role: string, [command, rows, columns]: Right): string[] {
  const to = `sinkside_${role}`;
  // A policy holds for whoever may become its role, too, as the program itself may, before it has.
  const which = rows === ALL ? `current_user = '${to}'` : rows;
  const checks: Record<Right[0], string> = {
    select: `using (${which})`,
    insert: `with check (${which})`,
    update: `using (${which}) with check (${which})`,
    delete: `using (${which})`,
  };
  return [
    `grant ${command} ${columns ? `(${columns})` : ''} on ${table} to ${to}`,
    `create policy ${role}_${command} on ${table} for ${command} to ${to} ${checks[command]}`,
  ];
}
