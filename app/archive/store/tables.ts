import type { ColumnType, Generated, GeneratedAlways } from 'kysely';

/** The archive's tables, as the migrations leave them; what each is for stands there. Hashes are SHA-256 as lower-case hex. */
export interface Tables {
  schools: { id: string; name: string };
  classes: { id: string; school_id: string; name: string };
  people: { id: string; school_id: string; class_id: string | null; name: string };
  accounts: {
    id: string;
    school_id: string;
    role: 'trainee' | 'instructor' | 'school';
    name: string;
    person_id: string | null;
    token_sha256: string;
    made_at: Generated<Date>;
    revoked_at: Date | null;
  };
  account_classes: { account_id: string; class_id: string };
  stations: {
    id: string;
    school_id: string;
    name: string;
    key_sha256: string;
    enrolled_at: Generated<Date>;
    revoked_at: Date | null;
    last_seen_at: Date | null;
  };
  enrolments: {
    code_sha256: string;
    school_id: string;
    station_name: string;
    ends_at: Date;
    station_id: string | null;
  };
  skills: {
    id: Identity;
    school_id: string | null;
    skill: string;
    version: number;
    sha256: string;
    source: string;
    slots: Generated<string>;
  };
  steps: {
    id: GeneratedAlways<number>;
    school_id: string | null;
    skill: string;
    version: number;
    step: string;
    text: string;
    critical: boolean;
  };
  attempts: AttemptsTable;
  journals: { attempt_id: string; events: string; review: Generated<string> };
  marks: { attempt_id: string; place: number; step_id: number; outcome: number; credited: boolean | null };
  reviews: {
    attempt_id: string;
    place: number;
    step_id: number;
    verdict: boolean | null;
    by: string;
    made_at: Date;
  };
  parts: { sha256: string; bytes: BigInt64 };
  attempt_parts: { attempt_id: string; name: string; sha256: string };
  copies: { station_id: string; record: string; school_id: string; sha256: string };
  deletions: {
    station_id: string;
    record: string;
    deleted_at: Generated<Date>;
    told_station_at: Date | null;
  };
  audit_log: {
    id: Identity;
    at: Generated<Date>;
    school_id: string | null;
    who: string;
    did: string;
    what: string;
  };
}

interface AttemptsTable {
  id: Identity;
  school_id: string;
  station_id: string;
  class_id: string | null;
  person_id: string | null;
  record: string;
  sha256: string;
  skill: string;
  /** Null for a mock test, and where nothing could be marked. */
  version: number | null;
  started_at: Date;
  seconds: number;
  engine: string;
  passed: boolean | null;
  heard: number;
  of: number;
  critical_missed: number;
  /** Which program and library marked it: `Marker.basisOf` and the program's version. */
  marked_by: string;
  signed_off: Generated<boolean>;
  agreed_to_sound: boolean;
  keep_until: Date | null;
  taken_at: Generated<Date>;
}

/** What `bigint` is read as: text, in both kinds of database, so that no digit is lost. */
type BigInt64 = ColumnType<string, string | number | bigint, string | number | bigint>;
type Identity = GeneratedAlways<string>;

/** Outcomes as `marks.outcome` has them: their place in this list, which may only grow. */
export const OUTCOMES = ['heard', 'not heard', 'out of order', 'unsure', 'needs eyes'] as const;
