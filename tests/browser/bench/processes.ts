import { readdirSync, readFileSync } from 'node:fs';

/** What Linux says of this program's browser. */

/** Ticks a second in /proc/PID/stat: the same on every Linux that Node runs on. */
const TICKS = 100;

/** Seconds of processor time and bytes of memory (PSS: shared pages shared out) of each browser process, by its id. */
export function browserProcesses(): Map<number, { seconds: number; bytes: number }> {
  const parents = new Map<number, number>();
  const seconds = new Map<number, number>();
  for (const name of readdirSync('/proc').filter((name) => /^\d+$/.test(name))) {
    parents.set(Number(name), Number(fieldsOf(Number(name))[1]));
    seconds.set(Number(name), secondsOf(Number(name)));
  }
  const ours = (id: number | undefined): boolean =>
    id === process.pid || (id !== undefined && id > 1 && ours(parents.get(id)));
  const found = new Map<number, { seconds: number; bytes: number }>();
  for (const id of parents.keys()) {
    if (!ours(id) || !read(`/proc/${id}/cmdline`).includes('chromium')) continue;
    const kilobytes = Number(/^Pss:\s+(\d+)/m.exec(read(`/proc/${id}/smaps_rollup`))?.[1] ?? 0);
    found.set(id, { seconds: seconds.get(id)!, bytes: kilobytes * 1024 });
  }
  return found;
}

/** Seconds of processor time that a process has taken. */
export function secondsOf(id: number): number {
  const fields = fieldsOf(id);
  return (Number(fields[11]) + Number(fields[12])) / TICKS;
}

/** The fields of /proc/PID/stat from the third on: the command's name stands in brackets and may hold spaces. */
const fieldsOf = (id: number): string[] =>
  read(`/proc/${id}/stat`)
    .replace(/^.*\) /s, '')
    .split(' ');

/** Seconds of processor time that the whole machine has been busy. */
export function machineBusy(): number {
  const [user, nice, system, , , irq, softirq] = read('/proc/stat')
    .split('\n')[0]!
    .split(/\s+/)
    .slice(1)
    .map(Number);
  return (user! + nice! + system! + irq! + softirq!) / TICKS;
}

/** A file of /proc; empty when its process has just ended. */
function read(file: string): string {
  try {
    return readFileSync(file, 'utf8');
  } catch {
    return '';
  }
}
