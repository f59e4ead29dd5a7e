import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { openChromium, until } from '../../deploy/bars/processes.ts';
import { startDemo } from '../../deploy/bars/screens/stage.ts';

let demo: Awaited<ReturnType<typeof startDemo>>;
let browser: Browser;
beforeAll(async () => {
  demo = await startDemo();
  browser = await openChromium();
});
afterAll(async () => {
  await browser?.close();
  await demo?.end();
});

test('a load that is planned on the phone lowers the night on every screen, until it is taken out', async () => {
  const lowPct = async () => (await snapshotOf(demo.url)).projection?.lowPoint?.p50Pct ?? Number.NaN;
  const [wall, phone] = await Promise.all([
    browser.newContext({ viewport: { width: 1280, height: 800 } }).then((device) => device.newPage()),
    browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true }).then((device) => device.newPage()),
  ]);
  await wall.goto(`${demo.url}#/tonight`);
  await phone.goto(`${demo.url}#/tonight`);
  await phone.getByLabel('Draws, watts').fill('1500');
  await phone.getByLabel('Runs, minutes').fill('60');
  await phone.getByText(/lowest \d+ % this night, \d+ % without it/).waitFor();
  await phone.getByLabel('Its name').fill('oven');
  const beforePct = await lowPct();
  await phone.getByRole('button', { name: 'Plan it' }).tap();

  const planned = (page: Page) => page.getByRole('region', { name: 'Planned loads' }).getByRole('listitem').filter({ hasText: 'oven' });
  await planned(wall).waitFor();
  // What it takes is some twenty points of this bank; by day the sun gives part of it back before the night.
  await until(async () => (await lowPct()) < beforePct - 2, 'the low point with the oven', demo.said);
  await planned(wall)
    .getByRole('button', { name: /^Take out/ })
    .click();
  await planned(phone).waitFor({ state: 'detached' });
  await until(async () => (await lowPct()) > beforePct - 2, 'the low point without it', demo.said);
  expect((await snapshotOf(demo.url)).plan).toEqual([]);
});
