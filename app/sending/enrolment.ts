import { mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { z } from 'zod';
import { replaceFile, textIfThere } from '../disk/wholeFile.ts';

const EnrolmentSchema = z.object({
  /** Where the archive is: `https://archive.school.example`, without a slash at its end. */
  address: z.string(),
  school: z.string(),
  station: z.object({ id: z.uuid(), name: z.string() }),
  /** What the archive knows this station by: a secret. */
  key: z.string().min(1),
  enrolledAt: z.iso.datetime(),
  /** Whether the school has sending turned on. */
  isOn: z.boolean(),
  /** What the archive said when it last took the key no more; null while it takes it. */
  revoked: z.string().nullable().default(null),
});
/** How this station is known to its school's archive. */
export type Enrolment = Readonly<z.infer<typeof EnrolmentSchema>>;

/** The address of an archive cannot be used. */
export class BadAddress extends Error {
  override readonly name = 'BadAddress';
}

/** This station's enrolment: DATA/archive.json, which only its owner may read. There is none while no archive is set. */
export class EnrolmentFile {
  private readonly file: string;

  constructor(private readonly data: string) {
    this.file = path.join(data, 'archive.json');
  }

  /** Null where no archive is set. Rejects where the file is damaged: it is never taken for "not enrolled". */
  async read(): Promise<Enrolment | null> {
    const text = await textIfThere(this.file);
    if (text === null) return null;
    const enrolment = EnrolmentSchema.safeParse(jsonOrNull(text));
    if (enrolment.success) return enrolment.data;
    throw new Error(`${this.file} is damaged. Delete it, then enrol this station again with a new code.`);
  }

  async write(enrolment: Enrolment): Promise<void> {
    await mkdir(this.data, { recursive: true });
    await replaceFile(this.file, `${JSON.stringify(enrolment, null, 2)}\n`, 0o600);
  }

  /** Forgets the archive and the key. */
  async remove(): Promise<void> {
    await rm(this.file, { force: true });
  }
}

const LOOPBACK = new Set(['127.0.0.1', 'localhost', '[::1]']);

/**
 * An archive's address as it was typed, checked: https, since names and speech go there; http only to this machine itself.
 *
 * @throws {BadAddress}
 */
export function archiveAddress(typed: string): string {
  const text = typed.trim();
  const whole = /^[a-z]+:\/\//i.test(text) ? text : `https://${text}`;
  if (!URL.canParse(whole))
    throw new BadAddress(`"${typed}" is no address. Give one such as https://archive.school.example.`);
  const url = new URL(whole);
  const isLocal = LOOPBACK.has(url.hostname);
  if (url.protocol !== 'https:' && !(url.protocol === 'http:' && isLocal))
    throw new BadAddress(`${typed} is not protected on its way. Give an address that begins with https://.`);
  if (url.username !== '' || url.password !== '' || url.search !== '' || url.hash !== '')
    throw new BadAddress(`${typed} has more than an address. Give it without a name, password, "?" or "#".`);
  return url.href.replace(/\/+$/, '');
}

function jsonOrNull(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
