/**
 * How smoothly the bench runs: `npm run bench:bench -- --seconds 30`. Prints pictures a second, and how far the sounds' times stray
 * from the breaths' that the picture shows; both go by the page's clock (`performance.now`). Nothing else should be running.
 */
import { parseArgs } from 'node:util';
import { breathe } from '../../../app/bench/breaths.ts';
import { buildRoom } from '../roomInBrowser.ts';

declare const window: { frames: number[]; sounds: number[] };

const SEED = 4711;
const { values } = parseArgs({ options: { seconds: { type: 'string', default: '30' } } });
const seconds = Number(values.seconds);

/** Writes down when each picture is drawn, and when each sound is to be heard, ms of the page's clock. As text: tsx would change it. */
const WATCH = `
  window.frames = [];
  window.sounds = [];
  requestAnimationFrame(function frame(now) {
    window.frames.push(now);
    requestAnimationFrame(frame);
  });
  const { start } = AudioBufferSourceNode.prototype;
  AudioBufferSourceNode.prototype.start = function (when = 0) {
    const { contextTime, performanceTime } = this.context.getOutputTimestamp();
    window.sounds.push(performanceTime + (when - contextTime) * 1000);
    start.call(this, when);
  };
`;

const room = await buildRoom();
const [browser, host] = [await room.browser('/dev/null', 'once'), await room.host()];
try {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
  await page.addInitScript(WATCH);
  await page.goto(`${host.url}#/bench/${SEED}`);
  await page.getByRole('button', { name: 'Begin' }).click();
  const before = await page.evaluate(() => performance.now());
  await page.getByRole('button', { name: 'Go to the resident' }).click();
  await page.waitForTimeout(1000);
  await page.evaluate(() => void (window.frames = []));
  await page.waitForTimeout(seconds * 1000);
  const { frames, sounds } = await page.evaluate(() => ({ frames: window.frames, sounds: window.sounds }));
  const steps = frames.slice(1).map((at, i) => at - (frames[i] ?? at));
  const whole = steps.reduce((sum, step) => sum + step, 0);
  console.log(
    `pictures: ${((1000 * steps.length) / whole).toFixed(1)} a second, longest gap ${Math.max(...steps).toFixed(0)} ms`,
  );
  // Each sound less its breath is when the resident was met; where sound and picture part, these differ.
  const { breaths } = breathe(SEED, 'even', 1800);
  const met = sounds
    .map((sound) => {
      const near = breaths.map(({ at }) => sound - 1000 * at);
      return near.reduce((best, each) => (Math.abs(each - before) < Math.abs(best - before) ? each : best));
    })
    .sort((a, b) => a - b);
  const middle = met[Math.floor(met.length / 2)] ?? NaN;
  const off = Math.max(...met.map((each) => Math.abs(each - middle)));
  console.log(
    `sounds: ${met.length}, at most ${off.toFixed(1)} ms off the middle one against the picture’s clock`,
  );
} finally {
  await browser.close();
  await host.close();
  await room.remove();
}
