import type { IncomingMessage, ServerResponse } from 'node:http';

type Answer = (
  request: IncomingMessage,
  response: ServerResponse,
  found: readonly string[],
) => Promise<void> | void;

/** One thing that can be asked of the host. */
export interface Route {
  readonly method: 'GET' | 'PUT' | 'POST';
  /** Its groups are handed on. */
  readonly path: RegExp;
  readonly answer: Answer;
}
