/** How often and how long a window is looked at until its page is there, ms. */
const LOOK_EVERY = 50;
const LOOK_FOR = 10_000;

/**
 * Opens a report in a window of its own and has the browser print it.
 *
 * @param report answers its page
 * @throws {Error} the browser lets no window be opened, or its page did not come
 */
export async function print(report: () => Promise<Blob>): Promise<void> {
  // At once: a window that is opened after some waiting was not asked for, as browsers see it.
  const opened = window.open('', '_blank');
  if (!opened)
    throw new Error('The browser opened no window. Let this page open windows, then press Print again.');
  const page = await report().catch((error: unknown) => {
    opened.close();
    throw error;
  });
  const address = URL.createObjectURL(page);
  opened.location.replace(address);
  for (let waited = 0; !isThere(opened, address); waited += LOOK_EVERY) {
    if (opened.closed) return;
    if (waited > LOOK_FOR)
      throw new Error('The report did not come up in its window. Save it, and print the file.');
    await new Promise((done) => setTimeout(done, LOOK_EVERY));
  }
  opened.print();
}

const isThere = ({ location, document: page }: Window, address: string): boolean =>
  location.href === address && page.readyState === 'complete';
