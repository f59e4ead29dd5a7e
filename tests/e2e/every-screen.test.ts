import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openChromium, until } from '../../deploy/bars/processes.ts';
import { violationsOf } from '../../deploy/bars/screen-axe.ts';
import { type HeldLook, LOOKS, newDevice, startDemo } from '../../deploy/bars/screens/stage.ts';
import { everyPart, goTo } from '../../deploy/bars/screens/walk.ts';
import { ROOT } from '../helpers/source-files.ts';

const PICTURES = join(ROOT, 'dist/every-screen');
/** Sizes a person has, and whether axe looks there too: it judges by structure and colour, which the others share. */
const SIZES = [
  { width: 1280, height: 800, axe: true },
  { width: 1024, height: 768, axe: false },
  { width: 390, height: 844, axe: true },
  { width: 768, height: 1024, axe: false },
  { width: 3840, height: 2160, axe: false },
] as const;

let demo: Awaited<ReturnType<typeof startDemo>>;
let browser: Awaited<ReturnType<typeof openChromium>>;
beforeAll(async () => {
  mkdirSync(PICTURES, { recursive: true });
  demo = await startDemo();
  // Before its first projection the program answers no question about the night.
  const question = { method: 'POST', headers: { 'content-type': 'application/json' }, body: '{"kind":"tonight"}' };
  await until(async () => (await fetch(`${demo.url}/api/advice`, question)).ok, 'the first projection', demo.said);
  browser = await openChromium();
  console.log(`Pictures of every screen: ${PICTURES}`);
});
afterAll(async () => {
  await browser?.close();
  await demo?.end();
});

/** Runs in the page: what is wrong with how it lies on the screen, a line each. */
const FAULTS = `(() => {
  const found = [];
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) found.push('scrolls sideways by ' + (root.scrollWidth - root.clientWidth) + ' px');
  if ((document.querySelector('main')?.textContent ?? '').trim().length < 20) found.push('is blank');
  const seen = (element) => element.getClientRects().length > 0 && element.checkVisibility({ visibilityProperty: true }) && !element.closest('.unseen');
  const name = (element) => element.tagName.toLowerCase() + ' "' + (element.getAttribute('aria-label') ?? element.textContent).trim().slice(0, 50) + '"';
  for (const element of document.querySelectorAll('body *')) {
    if (!seen(element) || ![...element.childNodes].some((node) => node.nodeType === 3 && node.nodeValue.trim() !== '')) continue;
    const style = getComputedStyle(element);
    const clips = style.overflowX !== 'visible' || style.textOverflow === 'ellipsis';
    if (clips && style.overflowX !== 'auto' && style.overflowX !== 'scroll' && element.scrollWidth > element.clientWidth + 1) found.push('text is cut: ' + name(element));
    const box = element.getBoundingClientRect();
    if (!element.closest('[data-scrolls], pre, svg') && (box.right > root.clientWidth + 1 || box.left < -1)) {
      let around = element.parentElement;
      while (around && !/auto|scroll/.test(getComputedStyle(around).overflowX)) around = around.parentElement;
      if (!around) found.push('text leaves the screen: ' + name(element));
    }
  }
  for (const element of document.querySelectorAll('button, a[href], input, select, textarea, summary, [role=switch], [role=slider]')) {
    if (!seen(element)) continue;
    // What a label holds is touched by the label.
    const box = (element.closest('label') ?? element).getBoundingClientRect();
    if (box.height < 43.5 || box.width < 43.5) found.push('too small for a finger: ' + name(element) + ' ' + Math.round(box.width) + ' x ' + Math.round(box.height));
  }
  return found;
})()`;

async function look(page: Page, part: string, looks: HeldLook, size: (typeof SIZES)[number]): Promise<string[]> {
  await goTo(page, demo.url, part);
  // What a place shows is looked at, not that it waits for it.
  await page
    .getByText(/being fetched/)
    .first()
    .waitFor({ state: 'detached' });
  const faults = (await page.evaluate(FAULTS)) as string[];
  if (size.axe) faults.push(...(await violationsOf(page)));
  await page.screenshot({ path: join(PICTURES, `${part.replace('/', '-')}-${looks}-${size.width}x${size.height}.png`) });
  return faults.map((fault) => `${part}: ${fault}`);
}

test.each(SIZES.flatMap((size) => LOOKS.map((held) => ({ size, held, name: `${size.width}x${size.height}, ${held}` }))))(
  'every place and part lies on its screen and can be used ($name)',
  async ({ size, held }) => {
    const page = await newDevice(browser, held, { viewport: { width: size.width, height: size.height } });
    const faults: string[] = [];
    page.on('pageerror', (error) => faults.push(error.message));
    page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
    const parts = await everyPart(page, demo.url);
    expect(parts.length).toBeGreaterThanOrEqual(6);
    for (const part of parts) faults.push(...(await look(page, part, held, size)));
    await page.context().close();
    expect(faults).toEqual([]);
  },
);
