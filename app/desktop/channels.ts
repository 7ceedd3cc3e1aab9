/** What the shell and its page say to each other; neither message carries anything. */
export const CLOSING = 'closing';
export const FLUSHED = 'flushed';
