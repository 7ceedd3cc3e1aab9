import type { Tables } from '../store/tables.ts';

/** A table's key, column by column, with the type that a value of it is read as. */
export type Key = readonly (readonly [
  column: string,
  type: 'uuid' | 'bigint' | 'integer' | 'smallint' | 'text',
])[];
export interface KeptTable {
  readonly name: keyof Tables;
  readonly key: Key;
  /** Rows that are read at once. */
  readonly page: number;
}

/** Of tables whose rows are short. */
const PAGE = 1000;
/** Of those whose rows hold a whole journal or skill, of some 100 kB. */
const FEW = 20;

const table = (name: keyof Tables, ...key: Key): KeptTable => ({ name, key, page: PAGE });
const longTable = (name: keyof Tables, ...key: Key): KeptTable => ({ name, key, page: FEW });

/** Tables that are not copied: a trigger counts them again as the rows of `tried` come. */
export const COUNTED_TABLES: readonly (keyof Tables)[] = ['standings', 'skill_months', 'step_months'];

/** All other tables of the archive, each after those that its rows refer to. */
export const KEPT_TABLES: readonly KeptTable[] = [
  table('schools', ['id', 'uuid']),
  table('classes', ['id', 'uuid']),
  table('people', ['id', 'uuid']),
  table('accounts', ['id', 'uuid']),
  table('account_classes', ['account_id', 'uuid'], ['class_id', 'uuid']),
  table('stations', ['id', 'uuid']),
  table('enrolments', ['code_sha256', 'text']),
  longTable('skills', ['id', 'bigint']),
  table('steps', ['id', 'integer']),
  table('parts', ['sha256', 'text']),
  table('attempts', ['id', 'bigint']),
  longTable('journals', ['attempt_id', 'bigint']),
  table('marks', ['attempt_id', 'bigint'], ['place', 'smallint'], ['step_id', 'integer']),
  table('reviews', ['attempt_id', 'bigint'], ['place', 'smallint'], ['step_id', 'integer']),
  table('attempt_parts', ['attempt_id', 'bigint'], ['name', 'text']),
  table('tried', ['attempt_id', 'bigint'], ['place', 'smallint']),
  table('markings', ['id', 'bigint']),
  table('marked_again', ['marking_id', 'bigint'], ['attempt_id', 'bigint']),
  table('copies', ['station_id', 'uuid'], ['record', 'text']),
  table('deletions', ['station_id', 'uuid'], ['record', 'text']),
  table('audit_log', ['id', 'bigint']),
];
