import { useState } from 'react';
import type { Asked, ClassReply } from '../../app/archive/views/api.ts';
import { attemptsOf } from '../../app/archive/views/attempts.ts';
import { ClassProgress } from '../progress/ClassProgress.tsx';
import type { ArchiveApi } from './archiveApi.ts';
import { useReply } from './useReply.ts';
import { Waiting } from './Waiting.tsx';

/** A class with one skill, a page of its people at a time. */
export function ClassView({
  api,
  id,
  asked,
}: {
  readonly api: ArchiveApi;
  readonly id: string;
  readonly asked: Asked & { readonly skill: string };
}) {
  const key = JSON.stringify([id, asked]);
  const [page, setPage] = useState<{ key: string; after: string } | null>(null);
  const after = page?.key === key ? page.after : undefined;
  const { reply, failed } = useReply(() => api.class(id, { ...asked, after }), `${key} ${after ?? ''}`);
  if (!reply) return <Waiting failed={failed} />;
  const names = namesOf(reply.trainees);
  return (
    <>
      <h2>{reply.name}</h2>
      {reply.trainees.length === 0 ? (
        <p>Nobody is in this class yet.</p>
      ) : (
        <ClassProgress
          skill={reply.skill}
          trainees={[...names.values()]}
          attempts={attemptsOf(reply, (trainee) => names.get(trainee) ?? trainee)}
          now={new Date().toISOString()}
        />
      )}
      <div className="actions">
        {after !== undefined && (
          <button type="button" className="button" onClick={() => setPage(null)}>
            First people
          </button>
        )}
        {reply.next !== null && (
          <button type="button" className="button" onClick={() => setPage({ key, after: reply.next ?? '' })}>
            Next people
          </button>
        )}
      </div>
    </>
  );
}

/** What each is called: two of one name are told apart by a number. */
function namesOf(trainees: ClassReply['trainees']): Map<string, string> {
  const seen = new Map<string, number>();
  return new Map(
    trainees.map(({ id, name }) => {
      const nth = (seen.get(name) ?? 0) + 1;
      seen.set(name, nth);
      return [id, nth === 1 ? name : `${name} (${nth})`];
    }),
  );
}
