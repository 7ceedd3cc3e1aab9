import { z } from 'zod';
import { ALL_BENCH_STEPS, MEASURES } from './measure.ts';

/** The format of a skill file, version 1: what a school writes. DEVELOPERS.md shows how. */

/** The name of a skill or step in files and addresses; holds nothing a path could be made of. */
export const IdSchema = z
  .string()
  .regex(/^[a-z][a-z0-9]*(-[a-z0-9]+)*$/, 'an id is lower-case words joined by hyphens, such as "call-light"')
  .refine((id) => !(id in Object.prototype), 'is a word that every program keeps for itself; take another');
const id = IdSchema;
const text = z.string().trim().min(1, 'must not be empty');
/** An example saying: words, and slots of the lexicon in braces: "I {close} the {curtain}". */
const cue = text;
const cues = z.array(cue).min(1, 'needs at least one cue');
/** One step id or several. */
const stepIds = z.array(id).min(1).optional();

const said = z.strictObject({ kind: z.literal('said') });

const timed = z.strictObject({
  kind: z.literal('timed'),
  /** Seconds needed. */
  atLeast: z.number().positive(),
  /** Seconds that may be missing, for what is timed by the eye on a clock. */
  grace: z.number().nonnegative().default(0),
  /** Sayings that start the clock. The step's own `cues`, where given, start it too. */
  start: cues,
  /** Sayings that stop it. */
  stop: cues,
  /** Steps that are part of what is timed: saying one starts the clock or lets it run on. */
  parts: stepIds,
  /** Steps that may be said meanwhile without touching the clock. Any other credited step stops it. */
  during: stepIds,
  /** Steps that halt the clock until the timed thing is said to go on. Their own time does not count. */
  pausedBy: stepIds,
});

const counted = z.strictObject({
  kind: z.literal('counted'),
  /** Repetitions needed. The step's cues say the movement once. */
  atLeast: z.number().int().positive(),
  /** What is moved: movements of one joint are counted together ("bend and straighten, that's one"). */
  joint: id,
  /** Short sayings of the movement that count while this joint is being moved: "bend", "and up". */
  again: cues,
});

const reading = z.strictObject({
  kind: z.literal('reading'),
  unit: text,
  /** Smallest and largest value that can be meant. */
  from: z.number(),
  to: z.number(),
  /** Sayings that carry the number, besides the step's own cues. */
  value: cues,
  /** Which number of the sentence it is: "118 over 76" holds two. */
  which: z.enum(['first', 'last']).default('last'),
});

/** Cannot be shown by words: left to the instructor. */
const eyes = z.strictObject({ kind: z.literal('eyes') });

const Evidence = z.discriminatedUnion('kind', [said, timed, counted, reading, eyes]);

const StepSchema = z
  .strictObject({
    id,
    text,
    critical: z.boolean().default(false),
    evidence: Evidence.default({ kind: 'said' }),
    cues: cues.optional(),
    /**
     * Whether it is itself what one is going to do, as an explanation to the resident: "I am going to…" is the step, and
     * what else is announced in its sentence is not said yet.
     */
    plans: z.boolean().default(false),
    /** This step must come after / before these, wherever both are said. The step itself is flagged otherwise. */
    after: stepIds,
    before: stepIds,
    /** Nothing else may be credited between that step and this one. */
    directlyAfter: id.optional(),
    /** What it does with the simulated resident, where the skill has one: they are shown from its first such step to its last. */
    bench: z.enum(ALL_BENCH_STEPS).optional(),
    /** Only in these variants: every named variant must have the given value. */
    when: z.record(z.string(), z.string()).optional(),
  })
  .superRefine((step, ctx) => {
    // What only needs saying the learned judge finds by its text alone; a repetition or a number it does not.
    const words = step.evidence.kind === 'counted' || step.evidence.kind === 'reading';
    if (words && !step.cues) {
      ctx.addIssue({
        code: 'custom',
        path: ['cues'],
        message: `step "${step.id}" needs cues: what a trainee says for it`,
      });
    }
    if (step.evidence.kind === 'eyes' && step.cues) {
      ctx.addIssue({
        code: 'custom',
        path: ['cues'],
        message: `step "${step.id}" needs eyes, so it takes no cues`,
      });
    }
  });

export type Step = z.infer<typeof StepSchema>;

/** What 42 CFR 483.152(b)(3) has nurse aides taught as personal care; a skill names what it covers. */
export const PERSONAL_CARE = [
  'bathing',
  'grooming and mouth care',
  'dressing',
  'toileting',
  'eating and hydration',
  'feeding techniques',
  'skin care',
  'transfers, positioning and turning',
] as const;

/** What skills are grouped by where they are chosen, in the order the groups are shown. */
export const SKILL_GROUPS = [
  'hands and protection',
  'personal care',
  'dressing',
  'eating and drinking',
  'toileting',
  'moving and positioning',
  'range of motion',
  'measuring',
  'bed and room',
  'other',
] as const;
export type SkillGroup = (typeof SKILL_GROUPS)[number];

const variant = z
  .strictObject({
    question: text,
    default: z.string(),
    options: z.record(z.string(), text),
  })
  .superRefine((v, ctx) => {
    if (!(v.default in v.options))
      ctx.addIssue({
        code: 'custom',
        path: ['default'],
        message: `"${v.default}" is none of the options (${Object.keys(v.options).join(', ')})`,
      });
  });

export const SkillSchema = z.strictObject({
  schema: z.literal(1, 'this program reads skill files of schema 1'),
  id,
  title: text,
  /** Where it stands among the others. Files from before this field are under "other". */
  group: z.enum(SKILL_GROUPS).default('other'),
  /** Counts up whenever something is changed that is marked; a result names the version it was marked under. */
  version: z.number().int().positive().default(1),
  /** What the latest version changed, in a sentence. */
  change: text.optional(),
  /** What the instruction card says, as read to the trainee. */
  card: text,
  /** Who it is done for, as the card names them; left out where that is whoever is there. */
  resident: text.optional(),
  /** What must lie ready. */
  equipment: z.array(text).default([]),
  /** What can hurt the resident or the trainee here, each in a sentence. */
  cautions: z.array(text).default([]),
  /** The regulation's items of personal care that it practises. */
  covers: z.array(z.enum(PERSONAL_CARE)).default([]),
  /** What a simulated resident is measured for in it; left out where there is nothing to measure. */
  bench: z.enum(MEASURES).optional(),
  variants: z.record(z.string(), variant).default({}),
  steps: z.array(StepSchema).min(1, 'a skill needs steps'),
});
export type Skill = z.infer<typeof SkillSchema>;

/**
 * `skills/care.yaml`: the steps that run through every skill, each written once. A skill takes one in by
 * `- use: greet`, where its own cues, orders and other fields may follow.
 */
export const CareSchema = z.strictObject({ schema: z.literal(1), steps: z.array(StepSchema) });
export type Care = z.infer<typeof CareSchema>;

/** `skills/lexicon.yaml`: wordings that mean the same in this trade. */
export const LexiconSchema = z.strictObject({
  schema: z.literal(1),
  slots: z.record(
    z.string().regex(/^[a-z]+(-[a-z]+)*$/, 'a slot is lower-case words joined by hyphens'),
    z.array(text).min(1),
  ),
});
export type Lexicon = z.infer<typeof LexiconSchema>;

/** How a manner of saying a step is taken: it counts, is asked about (`unsure`), or does not count. */
const TakenSchema = z.enum(['counts', 'asks', 'no']);
export type Taken = z.infer<typeof TakenSchema>;
const takenFor = (ordinary: Taken, critical: Taken) =>
  z.strictObject({ ordinary: TakenSchema, critical: TakenSchema }).readonly().default({ ordinary, critical });

/** What needs no saying again in the next skills of one test. */
const CarryOverSchema = z
  .strictObject({
    /** The step that is carried over. */
    step: id,
    /** Steps that do it, in an earlier skill: one of them must have been simply heard there. */
    from: z.array(id).min(1),
    /** How far it lasts: into the skill that follows directly, until a skill is done with another resident, or to the end. */
    until: z.enum(['next skill', 'next resident', 'end']).default('end'),
    /** Steps that end it when they are heard after it: gloves taken off, waste emptied. */
    endedBy: z.array(id).default([]),
  })
  .readonly();
export type CarryOver = z.infer<typeof CarryOverSchema>;

/** `skills/rules/*.yaml`: when a rehearsal or a mock test counts as passed. A school's or a state's rule, never code. */
export const RulesSchema = z.strictObject({
  schema: z.literal(1),
  id,
  title: text,
  /** Share of the steps that words can show which must be credited, 0–1. Every critical step must be, always. */
  share: z.number().min(0).max(1),
  /** Whether a step said out of order still counts. A critical one never does. */
  outOfOrderCounts: z.boolean(),
  /** Minutes a rehearsal may take, pauses left out. Without them there is no limit. */
  minutes: z.number().positive().exactOptional(),
  /** Minutes to look around and read the cards before the time of a mock test begins by itself. */
  lookAround: z.number().nonnegative().default(0),
  /** How "I'm going to…", said as the step begins, is taken. */
  nearFuture: takenFor('counts', 'counts'),
  /** How "here I would…" is taken. Never as a time, a repetition or a number, whatever stands here. */
  would: takenFor('counts', 'asks'),
  /** What carries over from skill to skill of a test, and into a rehearsal that begins so. */
  carriesOver: z.array(CarryOverSchema).default([]),
  /** Whether a mock test helps with nothing, as in a test. */
  silent: z.boolean().default(true),
  /** Whether the coach calls out the time left. */
  timeCalls: z.boolean().default(true),
  /** Skills of a mock test that must pass. Without it all. */
  skillsToPass: z.number().int().positive().exactOptional(),
  /** How far from the evaluator's number a recorded one may be, by the reading's unit. */
  tolerances: z.record(z.string(), z.number().nonnegative()).default({}),
});
export type Rules = z.infer<typeof RulesSchema>;
