import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout } from 'node:timers/promises';
import type { Browser, CDPSession, Page } from 'playwright-core';
import { PROJECT_ROOT } from '../project.ts';
import type { Bar } from './bar.ts';
import { startPlayedBox } from './screens/played-box.ts';
import { newDevice, onStage, TABLET } from './screens/stage.ts';
import { keepSwinging } from './screens/swing.ts';
import { goTo } from './screens/walk.ts';

const SIGNALS = 50;
const STEP_MS = 250;
const SLOW_DOWN = 4;
const SECONDS = 20;
/** Longer than the place takes to ask for its report again. */
const TRACED_SECONDS = 12;

export const mainThreadBar: Bar = {
  name: 'screen-main-thread',
  what: `${SIGNALS} signals shown at 4 Hz on the Sensors place, the processor ${SLOW_DOWN} times slower`,
  measure: () =>
    onStage(async ({ demo, browser }) => {
      const box = await startPlayedBox(demo.url, { signals: SIGNALS });
      const stop = keepSwinging(box, STEP_MS);
      try {
        const page = await newDevice(browser, 'day');
        await box.lead(page);
        await goTo(page, box.url, 'sensors');
        await setTimeout(3000);
        const writes = (await page.evaluate(RECORD)) as Recorded;
        const html = (await page.evaluate(STILL)) as string;
        const longestMs = await longestTaskMs(browser, page);
        const still = await newDevice(browser, 'day', { viewport: TABLET, bypassCSP: true });
        // Both at the same time: a machine that is slower for a while is slower for both.
        const [share, plainShare] = await Promise.all([busyShare(page), busyShare(await openPlain(still, box.url, html, writes))]);
        if (((await still.evaluate('written')) as number) < 3 * SECONDS) throw new Error('the plain page got too few events to compare with');
        return [
          { name: 'main thread busy while live', figure: 100 * share, unit: '%', bar: 35, sense: 'most' },
          { name: 'to a plain page that writes the same text', figure: share / plainShare, unit: 'times', bar: 1.5, sense: 'most' },
          { name: 'longest task', figure: longestMs, unit: 'ms', bar: 50, sense: 'most' },
        ];
      } finally {
        stop();
        await box.close();
      }
    }),
};

/** A page on a processor that is several times slower. */
async function slowedDown(page: Page): Promise<CDPSession> {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: SLOW_DOWN });
  return cdp;
}

/** Share of the time that the tasks of the page's main thread take, by the thread's own clock: other programs on the machine do not count. */
async function busyShare(page: Page): Promise<number> {
  const cdp = await slowedDown(page);
  await cdp.send('Performance.enable', { timeDomain: 'threadTicks' });
  await setTimeout(2000);
  const taskS = async () => (await cdp.send('Performance.getMetrics')).metrics.find(({ name }) => name === 'TaskDuration')?.value ?? Number.NaN;
  const [fromS, started] = [await taskS(), performance.now()];
  await setTimeout(SECONDS * 1000);
  return (1000 * ((await taskS()) - fromS)) / (performance.now() - started);
}

interface TraceEvent {
  readonly name: string;
  readonly pid: number;
  readonly tid: number;
  /** Time that the thread itself has run, microseconds. */
  readonly tdur?: number;
  readonly args: { readonly name?: string };
}

/** The longest task of the page's main thread in a trace of a while, ms by the thread's own clock. */
async function longestTaskMs(browser: Browser, page: Page): Promise<number> {
  await slowedDown(page);
  await setTimeout(2000);
  await browser.startTracing(page, { categories: ['disabled-by-default-devtools.timeline'] });
  await setTimeout(TRACED_SECONDS * 1000);
  const { traceEvents } = JSON.parse((await browser.stopTracing()).toString()) as { traceEvents: readonly TraceEvent[] };
  const mains = new Set(traceEvents.filter(({ args }) => args.name === 'CrRendererMain').map(({ pid, tid }) => `${pid}:${tid}`));
  const tasks = traceEvents.filter(({ name, pid, tid }) => name === 'RunTask' && mains.has(`${pid}:${tid}`));
  if (tasks.length === 0) throw new Error('the trace holds no task of the main thread');
  return tasks.reduce((longest, { tdur = 0 }) => Math.max(longest, tdur / 1000), 0);
}

/** Texts written at each rendering: places among all text nodes, and what is written there. */
type Recorded = readonly (readonly [number, string])[][];

/** Runs in the page for a while: what it writes, by the order of its text nodes. */
const RECORD = `new Promise((done) => {
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const places = new Map();
  while (walker.nextNode()) places.set(walker.currentNode, places.size);
  const renderings = [];
  const observer = new MutationObserver((changes) => {
    const written = new Map(changes.filter(({ target }) => places.has(target)).map(({ target }) => [places.get(target), target.nodeValue]));
    renderings.push([...written]);
  });
  observer.observe(document.body, { subtree: true, characterData: true });
  setTimeout(() => { observer.disconnect(); done(renderings); }, 5000);
})`;
/** The page as it stands, with its styles and without its script. Neighbouring and empty text nodes are kept apart by comments, as the page has them. */
const STILL = `(() => {
  const copy = document.documentElement.cloneNode(true);
  for (const script of copy.querySelectorAll('script, link[rel=modulepreload]')) script.remove();
  const walker = document.createTreeWalker(copy, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) if (walker.currentNode.nodeValue === '') walker.currentNode.nodeValue = '\\u200b';
  return '<!doctype html>' + copy.outerHTML;
})()`;

/** A page of the same look without a framework: it gets the same live events and writes the recorded texts at each. */
async function openPlain(page: Page, url: string, html: string, writes: Recorded): Promise<Page> {
  // A document of the box, so that it may connect there; its content is then replaced.
  await page.goto(`${url}/app.webmanifest`);
  await page.setContent(html);
  await page.addScriptTag({ content: await readFile(join(PROJECT_ROOT, 'node_modules/socket.io-client/dist/socket.io.min.js'), 'utf8') });
  await page.addScriptTag({
    content: `{
      const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
      const texts = [];
      while (walker.nextNode()) texts.push(walker.currentNode);
      const writes = ${JSON.stringify(writes)};
      globalThis.written = 0;
      io({ transports: ['websocket'] }).on('change', () => {
        for (const [place, text] of writes[written++ % writes.length]) texts[place].nodeValue = text;
      });
    }`,
  });
  return page;
}
