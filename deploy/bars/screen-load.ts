import type { Page } from 'playwright-core';
import type { Bar } from './bar.ts';
import { newDevice, onStage } from './screens/stage.ts';
import { startWire } from './screens/wire.ts';

const SLOW_DOWN = 4;
const RUNS = 5;

/** Runs in the page before all else: notes when the verdict's sentence is on the screen, and tells when the typeface is there too. */
const WATCH = `{
  const painted = (then) => requestAnimationFrame(() => requestAnimationFrame(then));
  const observer = new MutationObserver(() => {
    const text = document.querySelector('main h1')?.textContent ?? '';
    if (/^\\s*($|looking for)|no contact/i.test(text)) return;
    observer.disconnect();
    painted(() => {
      const verdictMs = performance.now();
      document.fonts.ready.then(() => painted(() => fullyPainted({ verdict: text, verdictMs, files: performance.getEntriesByType('resource').map(({ name, encodedBodySize }) => ({ name, encodedBodySize })) })));
    });
  });
  observer.observe(document, { subtree: true, childList: true, characterData: true });
}`;

interface Painted {
  readonly verdict: string;
  readonly verdictMs: number;
  readonly files: readonly { readonly name: string; readonly encodedBodySize: number }[];
}

async function firstPaint(page: Page, url: string): Promise<Painted> {
  const painted = new Promise<Painted>((resolve) => void page.exposeFunction('fullyPainted', resolve));
  await page.addInitScript(WATCH);
  await page.goto(url, { waitUntil: 'commit' });
  return painted;
}

/** A verdict, not the words of waiting for one. */
function assertVerdict(verdict: string): void {
  if (/not known|nothing/i.test(verdict)) throw new Error(`the first sentence was no verdict: ${verdict}`);
}

export const bytesBar: Bar = {
  name: 'screen-bytes',
  what: 'what comes over the wire until the first place is fully painted: pages, files, answers, headers and the live channel',
  measure: () =>
    onStage(async ({ demo, browser }) => {
      const wire = await startWire(demo.url);
      try {
        const page = await newDevice(browser, 'day');
        const { verdict, files } = await firstPaint(page, wire.url);
        const receivedBytes = wire.receivedBytes();
        assertVerdict(verdict);
        const codeBytes = files.filter(({ name }) => /\.(js|css)$/.test(name)).reduce((sum, { encodedBodySize }) => sum + encodedBodySize, 0);
        return [
          { name: 'script and style', figure: codeBytes / 1000, unit: 'kB', bar: 90, sense: 'most' },
          { name: 'everything that came, font included', figure: receivedBytes / 1000, unit: 'kB', bar: 150, sense: 'most' },
        ];
      } finally {
        await wire.close();
      }
    }),
};

export const firstPaintBar: Bar = {
  name: 'screen-first-paint',
  what: `from an empty cache to the verdict's sentence on the screen, the processor ${SLOW_DOWN} times slower; median of ${RUNS}`,
  measure: () =>
    onStage(async ({ demo, browser }) => {
      const times: number[] = [];
      for (let run = 0; run < RUNS; run += 1) {
        const page = await newDevice(browser, 'day');
        const cdp = await page.context().newCDPSession(page);
        await cdp.send('Emulation.setCPUThrottlingRate', { rate: SLOW_DOWN });
        const { verdictMs, verdict } = await firstPaint(page, demo.url);
        assertVerdict(verdict);
        times.push(verdictMs / 1000);
        await page.context().close();
      }
      return [
        { name: 'first paint with the verdict', figure: times.sort((a, b) => a - b)[Math.floor(RUNS / 2)] ?? Number.NaN, unit: 's', bar: 1.5, sense: 'most' },
      ];
    }),
};
