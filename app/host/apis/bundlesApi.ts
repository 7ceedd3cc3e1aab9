/**
 * What the host and the renderer say to each other of rehearsals as files that travel; both for the instructor alone.
 *
 *     GET  /api/bundle?id=ID&id=ID…                the rehearsals of these ids as one file (app/bundle)
 *     GET  /api/bundle?class=NAME&since=DATE       those of a class since a moment, as ISO 8601 has it; without class of everybody
 *     POST /api/bundles                            such a file → TakenIn
 *
 * As a link sends no headers of ours, the instructor's token may stand in the query.
 */
export { TakenInSchema, takenInWords, type TakenIn } from '../../carrying/takenIn.ts';

/** Carries how many rehearsals a bundle has. */
export const CARRIED_HEADER = 'sinkside-carried';
/** Carries how many were left out of it: being rehearsed, or damaged. */
export const LEFT_OUT_HEADER = 'sinkside-left-out';
