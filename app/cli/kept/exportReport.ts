import { replaceFile } from '../../disk/wholeFile.ts';
import { REPORT_FORMATS, type ReportFormat } from '../../host/api.ts';
import { readAttemptReport, type Sources } from '../../host/reports/attemptReportOf.ts';
import { attemptCsv } from '../../report/attemptCsv.ts';
import { attemptHtml } from '../../report/attemptHtml.ts';
import type { AttemptReport } from '../../report/attemptReport.ts';
import { UsageError } from '../recorded/answering.ts';

const WRITE: Readonly<Record<ReportFormat, (report: AttemptReport) => string>> = {
  html: attemptHtml,
  csv: attemptCsv,
  json: (report) => `${JSON.stringify(report, null, 2)}\n`,
};

/**
 * Writes the report of one rehearsal, with what people said of it.
 *
 * @param args the file, and the rehearsal's id
 * @throws {UsageError} there are other ones, or there is no such format
 */
export async function exportReport(
  [file, id, ...more]: readonly string[],
  asked: string,
  sources: Sources,
): Promise<{ readonly file: string; readonly report: string }> {
  const format = REPORT_FORMATS.find((each) => each === asked);
  if (!format || file === undefined || id === undefined || more.length > 0)
    throw new UsageError('Give a file, one id, and --report html, csv or json.');
  const report = await readAttemptReport(id, { isInstructor: true, trainee: null }, sources);
  await replaceFile(file, WRITE[format](report));
  return { file, report: id };
}
