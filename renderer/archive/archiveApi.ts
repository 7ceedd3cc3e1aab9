import { z } from 'zod';
import {
  AcrossReplySchema,
  ChoicesReplySchema,
  ClassReplySchema,
  SchoolReplySchema,
  type AcrossReply,
  type Asked,
  type ChoicesReply,
  type ClassReply,
  type SchoolReply,
} from '../../app/archive/views/api.ts';

/** The archive did not answer, or refused; the message says what and what to do. */
export class ArchiveFailed extends Error {
  override readonly name = 'ArchiveFailed';
}

/** What the archive's page asks, with the token that somebody signed in with. */
export interface ArchiveApi {
  choices(): Promise<ChoicesReply>;
  class(id: string, asked: Asked): Promise<ClassReply>;
  school(id: string, asked: Asked): Promise<SchoolReply>;
  across(skill: string): Promise<AcrossReply>;
}

export const archiveApi = (token: string): ArchiveApi => ({
  choices: () => ask(token, 'choices', {}, ChoicesReplySchema),
  class: (id, asked) => ask(token, `classes/${id}`, asked, ClassReplySchema),
  school: (id, asked) => ask(token, `schools/${id}`, asked, SchoolReplySchema),
  across: (skill) => ask(token, 'across', { skill }, AcrossReplySchema),
});

const ProblemSchema = z.object({ error: z.string(), advice: z.string().optional() });

async function ask<T>(token: string, what: string, asked: Asked, schema: z.ZodType<T>): Promise<T> {
  const query = new URLSearchParams(
    Object.entries(asked).filter((entry): entry is [string, string] => Boolean(entry[1])),
  ).toString();
  const response = await fetch(`/api/views/${what}${query && `?${query}`}`, {
    headers: { authorization: `Bearer ${token}` },
  }).catch(() => {
    throw new ArchiveFailed('The archive does not answer. Look whether it runs, and try again.');
  });
  const body: unknown = await response.json().catch(() => null);
  if (!response.ok) {
    const problem = ProblemSchema.safeParse(body);
    throw new ArchiveFailed(
      problem.success
        ? `${problem.data.error} ${problem.data.advice ?? ''}`.trim()
        : `The archive answered ${response.status}.`,
    );
  }
  return schema.parse(body);
}
