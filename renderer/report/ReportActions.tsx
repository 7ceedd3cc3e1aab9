import { useState } from 'react';
import { messageOf } from '../../app/faults/faults.ts';
import { REPORT_FORMATS, type ReportFormat } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { right } from '../people/right.ts';
import { saveFile } from '../browser/saveFile.ts';
import { print } from './print.ts';

const FORMATS: Readonly<Record<ReportFormat, string>> = {
  html: 'Page (HTML)',
  csv: 'Table (CSV)',
  json: 'Data (JSON)',
};

/** Saves and prints a report that the host writes. */
export function ReportActions({
  addressOf,
  name,
}: {
  readonly addressOf: (format: ReportFormat) => string;
  /** What its file is called, without the ending. */
  readonly name: string;
}) {
  const [format, setFormat] = useState<ReportFormat>('html');
  const [told, setTold] = useState('');
  const [failed, setFailed] = useState('');
  const { sinkside: desktop } = window;
  const act = (work: Promise<string>): void => {
    setTold('');
    setFailed('');
    work.then(setTold, (error: unknown) => setFailed(messageOf(error)));
  };
  const save = async (): Promise<string> => {
    saveFile(`${name}.${format}`, await api.report(addressOf(format)));
    return 'The report was handed to be saved.';
  };
  const savePdf = async (): Promise<string> => {
    const isSaved = await desktop?.savePdf({ address: addressOf('html'), headers: right(), name });
    return isSaved ? 'The report was saved.' : 'Nothing was saved.';
  };
  return (
    <section className="report-actions" aria-label="Report">
      <label className="field">
        <span>Report as</span>
        <select value={format} onChange={({ target }) => setFormat(formatOf(target.value))}>
          {Object.entries(FORMATS).map(([each, text]) => (
            <option key={each} value={each}>
              {text}
            </option>
          ))}
        </select>
      </label>
      <button type="button" className="button" onClick={() => act(save())}>
        Save report
      </button>
      {desktop ? (
        <button type="button" className="button" onClick={() => act(savePdf())}>
          Save as PDF
        </button>
      ) : (
        <button
          type="button"
          className="button"
          onClick={() => act(print(() => api.report(addressOf('html'))).then(() => ''))}
        >
          Print
        </button>
      )}
      <p role="status">{told}</p>
      {failed !== '' && <p role="alert">{failed}</p>}
    </section>
  );
}

const formatOf = (value: string): ReportFormat => REPORT_FORMATS.find((format) => format === value) ?? 'html';
