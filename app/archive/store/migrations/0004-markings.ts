import { sql, type Kysely, type Migration } from 'kysely';
import { ALL, changes, policiesOf, policyOf } from './0002-policies.ts';

/** Marking again: what was asked for, and which attempts it has reached. */
export const markings: Migration = {
  async up(db: Kysely<unknown>) {
    for (const statement of STATEMENTS) await sql.raw(statement).execute(db);
  },
};

const STATEMENTS = [
  // One skill under one version by one program is marked again once, however often it is asked for. `up_to` is the last attempt that was
  // put in the queue; those that come later are put when it is asked for again.
  `create table markings (
     id bigint generated always as identity primary key,
     skill text not null,
     version integer not null check (version > 0),
     marked_by text not null,
     up_to bigint not null default 0,
     made_at timestamptz not null default now(),
     unique (skill, version, marked_by)
   )`,
  // An attempt's row is written with its marks, in one transaction: so each is marked once. `why` is empty where it was marked.
  `create table marked_again (
     marking_id bigint not null references markings on delete cascade,
     attempt_id bigint not null references attempts on delete cascade,
     worker text not null,
     changed boolean not null,
     why text not null default '',
     at timestamptz not null default now(),
     primary key (marking_id, attempt_id)
   )`,
  `create index marked_again_of on marked_again (attempt_id)`,
  `create index marked_lately on marked_again (marking_id, at)`,
  `create index attempts_of_skill on attempts (skill, id)`,
  // Whether its marks are those of \`version\`, worked out again, and not those that its journal brought.
  `alter table attempts add column again boolean not null default false`,
  // The worker marks an attempt as taking it in does, with what persons said of it.
  `grant update (again) on attempts to sinkside_worker`,
  `grant select (review) on journals to sinkside_worker`,
  ...(['insert', 'update', 'delete'] as const).flatMap((command) =>
    policyOf('reviews', 'worker', [command, ALL]),
  ),
  ...policiesOf({
    markings: { worker: changes(ALL) },
    marked_again: { worker: changes(ALL) },
  }),
];
