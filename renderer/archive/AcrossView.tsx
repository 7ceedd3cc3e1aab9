import type { AcrossReply } from '../../app/archive/views/api.ts';
import { Table } from '../progress/Table.tsx';
import type { ArchiveApi } from './archiveApi.ts';
import { useReply } from './useReply.ts';
import { Waiting } from './Waiting.tsx';

/** A skill across all schools, without names: what is missed, and how machine and persons agree. */
export function AcrossView({ api, skill }: { readonly api: ArchiveApi; readonly skill: string }) {
  const { reply, failed } = useReply(() => api.across(skill), skill);
  if (!reply) return <Waiting failed={failed} />;
  return (
    <section className="progress" aria-label="All schools">
      <h2>All schools, without names</h2>
      <Groups
        title="Steps missed most"
        columns={['Step', 'Version', 'People, at least', 'Missed']}
        rows={reply.hardest.map((group) => [nameOf(group), group.version, group.people, about(group.missed)])}
      />
      <Groups
        title="Machine and people who reviewed"
        columns={['Step', 'Version', 'People, at least', 'Agree', 'False credits', 'Misses']}
        rows={reply.agreement.map((group) => [
          nameOf(group),
          group.version,
          group.people,
          about(group.agree),
          about(group.falseCredits),
          about(group.misses),
        ])}
      />
      <p className="hint">
        All that was rehearsed before this month. A step is shown where ten people were judged in it, and ten
        people of at least two schools other than yours. Shares are rounded to five percent and people down to
        tens, so that nobody can be told from the figures.
      </p>
    </section>
  );
}

function Groups({
  title,
  columns,
  rows,
}: {
  readonly title: string;
  readonly columns: readonly string[];
  readonly rows: readonly (readonly (string | number)[])[];
}) {
  return (
    <>
      <h3>{title}</h3>
      {rows.length === 0 ? (
        <p>Too few people to show.</p>
      ) : (
        <div className="agreement" role="region" aria-label={title} tabIndex={0}>
          <Table caption={title} isCaptionHidden columns={columns} rows={rows} />
        </div>
      )}
    </>
  );
}

const nameOf = ({
  text,
  critical,
}: AcrossReply['hardest'][number] | AcrossReply['agreement'][number]): string =>
  critical ? `${text} (critical)` : text;

/** The ends of the scale stand for all beyond them. */
function about(percent: number): string {
  if (percent <= 5) return '5 % or less';
  return percent >= 95 ? '95 % or more' : `about ${percent} %`;
}
