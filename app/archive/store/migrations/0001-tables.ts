import { sql, type Kysely, type Migration } from 'kysely';

/**
 * The first tables of the archive. Hashes are SHA-256 as lower-case hex. An attempt's rows hang on `attempts` and go with it:
 * to delete one is to delete its row, and those of its parts that no other attempt has.
 */
export const tables: Migration = {
  async up(db: Kysely<unknown>) {
    for (const statement of STATEMENTS) await sql.raw(statement).execute(db);
  },
};

const HASH = `text not null check (length(sha256) = 64)`;

const STATEMENTS = [
  `create table schools (
     id uuid primary key,
     name text not null unique
   )`,
  `create table classes (
     id uuid primary key,
     school_id uuid not null references schools,
     name text not null,
     unique (school_id, name)
   )`,
  // A person has the id that its station gave it: a random UUID.
  `create table people (
     id uuid primary key,
     school_id uuid not null references schools,
     class_id uuid references classes,
     name text not null
   )`,
  `create index people_of_class on people (class_id)`,
  // Who signs in. A trainee's account is one person's; an instructor's reaches the classes in account_classes.
  `create table accounts (
     id uuid primary key,
     school_id uuid not null references schools,
     role text not null check (role in ('trainee', 'instructor', 'school')),
     name text not null,
     person_id uuid unique references people on delete cascade,
     token_sha256 text not null unique,
     made_at timestamptz not null default now(),
     revoked_at timestamptz,
     check ((role = 'trainee') = (person_id is not null))
   )`,
  `create table account_classes (
     account_id uuid not null references accounts on delete cascade,
     class_id uuid not null references classes on delete cascade,
     primary key (account_id, class_id)
   )`,
  `create table stations (
     id uuid primary key,
     school_id uuid not null references schools,
     name text not null,
     key_sha256 text not null unique,
     enrolled_at timestamptz not null default now(),
     revoked_at timestamptz,
     last_seen_at timestamptz
   )`,
  // Codes to enrol a station with: each works once, until it ends.
  `create table enrolments (
     code_sha256 text primary key,
     school_id uuid not null references schools,
     station_name text not null,
     ends_at timestamptz not null,
     station_id uuid references stations on delete cascade
   )`,
  // Texts that marking rests on: a skill's YAML, and the wordings that its cues use, as JSON. The program's own have no school.
  `create table skills (
     id bigint generated always as identity primary key,
     school_id uuid references schools,
     skill text not null,
     version integer not null check (version > 0),
     sha256 ${HASH},
     source text not null,
     slots text not null default '{}',
     unique nulls not distinct (school_id, skill, version)
   )`,
  // What a mark is about, once for all attempts. The steps of the program's own skills have no school.
  `create table steps (
     id integer generated always as identity primary key,
     school_id uuid references schools,
     skill text not null,
     version integer not null,
     step text not null,
     text text not null,
     critical boolean not null,
     unique nulls not distinct (school_id, skill, version, step)
   )`,
  // `record` is its id at the station, `sha256` that of the content as it last came from there (`attemptHash` in app/bundle). The same
  // content comes once to a school; more of the same journal replaces what was there.
  `create table attempts (
     id bigint generated always as identity primary key,
     school_id uuid not null references schools,
     station_id uuid not null references stations,
     class_id uuid references classes,
     person_id uuid references people on delete cascade,
     record text not null,
     sha256 ${HASH},
     skill text not null,
     version integer,
     started_at timestamptz not null,
     seconds real not null,
     engine text not null,
     passed boolean,
     heard smallint not null,
     of smallint not null,
     critical_missed smallint not null,
     marked_by text not null,
     signed_off boolean not null default false,
     agreed_to_sound boolean not null,
     keep_until timestamptz,
     taken_at timestamptz not null default now(),
     unique (station_id, record),
     unique (school_id, sha256)
   )`,
  `create index attempts_of_class on attempts (class_id, skill, started_at desc)`,
  `create index attempts_of_person on attempts (person_id, skill, started_at desc)`,
  `create index attempts_of_school on attempts (school_id, started_at desc)`,
  `create index attempts_to_delete on attempts (keep_until) where keep_until is not null`,
  // The journal, one JSON value a line: the header and the machine's events, and apart from them what persons said afterwards, which
  // not everybody may read who may read the rest.
  `create table journals (
     attempt_id bigint primary key references attempts on delete cascade,
     events text not null,
     review text not null default ''
   )`,
  // `place` is the skill's index in a mock test, 0 in a rehearsal of one. Credited is null where words cannot show it.
  `create table marks (
     attempt_id bigint not null references attempts on delete cascade,
     place smallint not null,
     step_id integer not null references steps,
     outcome smallint not null,
     credited boolean,
     primary key (attempt_id, place, step_id)
   )`,
  // A person's verdicts, the last of each step, null where the person could not tell; all that was ever said stands in the journal.
  `create table reviews (
     attempt_id bigint not null references attempts on delete cascade,
     place smallint not null,
     step_id integer not null references steps,
     verdict boolean,
     by text not null,
     made_at timestamptz not null,
     primary key (attempt_id, place, step_id)
   )`,
  // Files of attempts (sound) by content. Several attempts may have the same one.
  `create table parts (
     sha256 text primary key check (length(sha256) = 64),
     bytes bigint not null
   )`,
  `create table attempt_parts (
     attempt_id bigint not null references attempts on delete cascade,
     name text not null,
     sha256 text not null references parts,
     primary key (attempt_id, name)
   )`,
  `create index attempts_of_part on attempt_parts (sha256)`,
  // Other stations of the school that have sent what an attempt holds: its deletion is told to them as well.
  `create table copies (
     station_id uuid not null references stations,
     record text not null,
     school_id uuid not null references schools,
     sha256 ${HASH},
     primary key (station_id, record)
   )`,
  `create index copies_of on copies (school_id, sha256)`,
  // What was deleted must not come back from a station that still has it.
  `create table deletions (
     station_id uuid not null references stations,
     record text not null,
     deleted_at timestamptz not null default now(),
     told_station_at timestamptz,
     primary key (station_id, record)
   )`,
  // Who read or changed what. The role that the program serves with may add to it, and nothing else.
  `create table audit_log (
     id bigint generated always as identity primary key,
     at timestamptz not null default now(),
     school_id uuid,
     who text not null,
     did text not null,
     what text not null
   )`,
];
