import { randomUUID } from 'node:crypto';
import { mkdir } from 'node:fs/promises';
import path from 'node:path';
import { z } from 'zod';
import { replaceFile, textIfThere } from '../disk/wholeFile.ts';
import { CONSENT_TEXT } from './consent.ts';
import {
  DeletedSchema,
  KeptDaysSchema,
  NewTraineeSchema,
  TraineeSchema,
  type NewTrainee,
  type Trainee,
} from './trainee.ts';

const PeopleSchema = z.object({
  trainees: z.array(TraineeSchema).default([]),
  keptDays: KeptDaysSchema.default(null),
  deleted: DeletedSchema.nullable().default(null),
});
type People = z.infer<typeof PeopleSchema>;

/** There is no trainee of that id. */
export class UnknownTrainee extends Error {
  override readonly name = 'UnknownTrainee';
  constructor() {
    super('There is no such trainee on this machine.');
  }
}

/**
 * The trainees on this machine, what they consented to, and how long rehearsals are kept: DATA/people.json. All functions
 * reject as node:fs does, and where the file is damaged; then nothing is written.
 */
export class PeopleFile {
  private readonly file: string;
  /** Changes follow one another. */
  private turn: Promise<unknown> = Promise.resolve();

  constructor(private readonly data: string) {
    this.file = path.join(data, 'people.json');
  }

  async read(): Promise<People> {
    const text = await textIfThere(this.file);
    if (text === null) return PeopleSchema.parse({});
    const people = PeopleSchema.safeParse(jsonOrNull(text));
    if (people.success) return people.data;
    throw new Error(
      `${this.file} is damaged. Put a good copy in its place; or move it away, and enter the people again.`,
    );
  }

  /** @throws {UnknownTrainee} */
  async trainee(id: string): Promise<Trainee> {
    return found((await this.read()).trainees, id);
  }

  async add(entered: NewTrainee): Promise<Trainee> {
    const trainee: Trainee = { id: randomUUID(), ...NewTraineeSchema.parse(entered), consent: null };
    await this.change((people) => ({ ...people, trainees: [...people.trainees, trainee] }));
    return trainee;
  }

  /** Adds those of some people that are not here, by their ids; those that are stay as they are. */
  addMissing(some: readonly Trainee[]): Promise<void> {
    return this.change((people) => {
      const missing = some.filter(({ id }) => people.trainees.every((each) => each.id !== id));
      return { ...people, trainees: [...people.trainees, ...missing] };
    });
  }

  /** Changes a person's name and class. Throws {@link UnknownTrainee}. */
  rename(id: string, entered: NewTrainee): Promise<void> {
    return this.changeOne(id, (trainee) => ({ ...trainee, ...NewTraineeSchema.parse(entered) }));
  }

  /**
   * Keeps a person's decision with its date.
   *
   * @param sends whether rehearsals may go to the archive; undefined where that was not asked
   * @param now ms since 1970
   * @throws {UnknownTrainee}
   */
  decide(id: string, agreed: boolean, now: number, sends?: boolean): Promise<void> {
    const at = new Date(now).toISOString();
    const consent = { agreed, text: CONSENT_TEXT, at, ...(sends !== undefined && { sends }) };
    return this.changeOne(id, (trainee) => ({ ...trainee, consent }));
  }

  /** Takes a person out, with what was consented to. Throws {@link UnknownTrainee}. */
  remove(id: string): Promise<void> {
    return this.change((people) => {
      found(people.trainees, id);
      return { ...people, trainees: people.trainees.filter((trainee) => trainee.id !== id) };
    });
  }

  keepFor(keptDays: number | null): Promise<void> {
    return this.change((people) => ({ ...people, keptDays }));
  }

  /** Adds to what is to be told of as deleted. `now` is in ms since 1970. */
  noteDeleted(count: number, now: number): Promise<void> {
    const at = new Date(now).toISOString();
    return this.change((people) => ({
      ...people,
      deleted: { count: count + (people.deleted?.count ?? 0), at },
    }));
  }

  /** What was deleted has been told. */
  told(): Promise<void> {
    return this.change((people) => ({ ...people, deleted: null }));
  }

  private changeOne(id: string, change: (trainee: Trainee) => Trainee): Promise<void> {
    return this.change((people) => {
      const trainee = found(people.trainees, id);
      return { ...people, trainees: people.trainees.map((each) => (each === trainee ? change(each) : each)) };
    });
  }

  private change(change: (people: People) => People): Promise<void> {
    const work = async (): Promise<void> => {
      const next = change(await this.read());
      await mkdir(this.data, { recursive: true });
      await replaceFile(this.file, `${JSON.stringify(next, null, 2)}\n`);
    };
    const turn = this.turn.then(work, work);
    this.turn = turn.catch(() => undefined);
    return turn;
  }
}

function found(trainees: readonly Trainee[], id: string): Trainee {
  const trainee = trainees.find((each) => each.id === id);
  if (!trainee) throw new UnknownTrainee();
  return trainee;
}

function jsonOrNull(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
