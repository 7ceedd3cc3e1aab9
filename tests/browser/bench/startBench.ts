/**
 * How long the start screen takes: `npm run bench:start -- --times 10`. Each time in a browser that has nothing of it yet, from asking for the page
 * until its skills stand there, drawn, and a key or click would be answered at once. Nothing else should be running.
 */
import { parseArgs } from 'node:util';
import { buildRoom } from '../roomInBrowser.ts';

declare const window: { readyAt: number };

const { values } = parseArgs({ options: { times: { type: 'string', default: '10' } } });

/** Notes when the first skill is drawn and the page is free to answer, ms since it was asked for. As text: tsx would change it. */
const WATCH = `
  new MutationObserver((_, observer) => {
    if (!document.querySelector('.skill-link')) return;
    observer.disconnect();
    requestAnimationFrame(() => setTimeout(() => (window.readyAt = performance.now())));
  }).observe(document, { childList: true, subtree: true });
`;

const room = await buildRoom();
const [browser, host] = [await room.browser('/dev/null', 'once'), await room.host()];
try {
  const took: number[] = [];
  for (let time = 0; time < Number(values.times); time++) {
    const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
    const page = await context.newPage();
    await page.addInitScript(WATCH);
    await page.goto(host.url);
    await page.waitForFunction(() => window.readyAt > 0);
    took.push(await page.evaluate(() => window.readyAt));
    await context.close();
  }
  console.log(`first: ${took[0]?.toFixed(0)} ms`);
  const sorted = took.sort((a, b) => a - b);
  console.log(
    `middle: ${sorted[sorted.length >> 1]?.toFixed(0)} ms, longest: ${sorted.at(-1)?.toFixed(0)} ms`,
  );
} finally {
  await browser.close();
  await host.close();
  await room.remove();
}
