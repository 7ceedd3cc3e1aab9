import type { ColumnType, Generated, GeneratedAlways, JSONColumnType } from 'kysely';
import type { Measured } from '../views/tried.ts';

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
  tried: TriedTable;
  /** How a person stands with a skill. `steady`: the last two tries were passed. */
  standings: {
    person_id: string;
    skill: string;
    school_id: string;
    tries: number;
    last_attempt: string | null;
    last_place: number | null;
    last_at: Date | null;
    steady: boolean;
  };
  skill_months: SkillMonthsTable;
  step_months: StepMonthsTable;
  markings: {
    id: Identity;
    skill: string;
    version: number;
    marked_by: string;
    up_to: Generated<string>;
    made_at: Generated<Date>;
  };
  marked_again: {
    marking_id: string;
    attempt_id: string;
    worker: string;
    changed: boolean;
    /** Why it could not be marked; empty where it was. */
    why: Generated<string>;
    at: Generated<Date>;
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

interface TriedTable {
  attempt_id: string;
  place: number;
  school_id: string;
  class_id: string | null;
  person_id: string | null;
  skill: string;
  version: number;
  started_at: Date;
  passed: boolean;
  step_ids: number[];
  marks: string;
  findings: string | null;
  measured: JSONColumnType<Measured>;
}

interface SkillMonthsTable {
  school_id: string;
  class_id: string | null;
  skill: string;
  version: number;
  /** The first day of the month, in UTC. */
  month: Date;
  attempts: number;
  passed: number;
  reviewed: number;
}

interface StepMonthsTable extends Omit<SkillMonthsTable, 'passed' | 'reviewed'> {
  step_id: number;
  credited: number;
  both_yes: number;
  both_no: number;
  false_credits: number;
  misses: number;
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
  /** Whether its marks are those of `version`, worked out again, and not those that its journal brought. */
  again: Generated<boolean>;
  agreed_to_sound: boolean;
  keep_until: Date | null;
  taken_at: Generated<Date>;
}

/** What `bigint` is read as: text, in both kinds of database, so that no digit is lost. */
type BigInt64 = ColumnType<string, string | number | bigint, string | number | bigint>;
type Identity = GeneratedAlways<string>;

/** Outcomes as `marks.outcome` has them: their place in this list, which may only grow. */
export const OUTCOMES = ['heard', 'not heard', 'out of order', 'unsure', 'needs eyes'] as const;
