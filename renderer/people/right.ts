import { INSTRUCTOR_HEADER, TRAINEE_HEADER } from '../../app/host/api.ts';

/** Where the chosen trainee's id is remembered: until this window is closed. */
const CHOSEN = 'sinkside.trainee';

/** The token of the instructor's session; in memory only, so that a page that is loaded again asks for the passphrase. */
let token = '';

/** What goes with every request, so that the host knows what this page may see. */
export function right(): Record<string, string> {
  // Tests run where there is no session storage.
  const trainee = typeof sessionStorage === 'undefined' ? null : sessionStorage.getItem(CHOSEN);
  return {
    ...(trainee !== null && { [TRAINEE_HEADER]: trainee }),
    ...(token !== '' && { [INSTRUCTOR_HEADER]: token }),
  };
}

/** Remembers who rehearses; null for nobody in particular. */
export function chooseTrainee(id: string | null): void {
  if (id === null) sessionStorage.removeItem(CHOSEN);
  else sessionStorage.setItem(CHOSEN, id);
}

/** Takes up the instructor's session, or with an empty token leaves it. */
export function takeSession(next: string): void {
  token = next;
}
