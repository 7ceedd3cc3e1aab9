/** What the shell and its page say to each other; the first two messages carry nothing. */
export const CLOSING = 'closing';
export const FLUSHED = 'flushed';
/** Carries a PdfAsked; answered with whether it was saved. */
export const SAVE_PDF = 'save-pdf';
