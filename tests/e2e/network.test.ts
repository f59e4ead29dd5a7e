import { cp, rm, symlink } from 'node:fs/promises';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { openChromium, type Running, run, temporaryFolder, untilOpen } from '../../deploy/bars/processes.ts';
import { DEMO_FOLDER } from '../../deploy/bars/screens/stage.ts';
import { makeOtherBuild } from '../helpers/other-build.ts';
import { ROOT } from '../helpers/source-files.ts';

const MINUTE_MS = 60_000;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let port = 0;
let program: Running & { url: string };
let browser: Browser;
let page: Page;

/** The built program from a folder of its own, so that its screens can be replaced. */
async function start(build: string): Promise<void> {
  const args = [join(folder.path, build, 'dist/deploy/main.js'), 'start', '--port', String(port), '--data', DEMO_FOLDER];
  const running = run(process.execPath, args, { cwd: join(folder.path, build) });
  program = { ...running, url: await untilOpen(running, 'the screens') };
  port = Number(new URL(program.url).port);
}

beforeAll(async () => {
  folder = await temporaryFolder();
  for (const build of ['one', 'two']) {
    await cp(join(ROOT, 'dist'), join(folder.path, build, 'dist'), { recursive: true, filter: (path) => !/every-screen|screens\//.test(path) });
    await cp(join(ROOT, 'package.json'), join(folder.path, build, 'package.json'));
    await symlink(join(ROOT, 'node_modules'), join(folder.path, build, 'node_modules'));
  }
  await rm(join(folder.path, 'two/dist/web'), { recursive: true });
  await makeOtherBuild(join(ROOT, 'dist/web'), join(folder.path, 'two/dist/web'));
  await start('one');
  browser = await openChromium();
});
afterAll(async () => {
  await browser?.close();
  await program?.end();
  await folder?.remove();
});
beforeEach(async () => {
  page = await (await browser.newContext()).newPage();
});

/** What the top line says of the signals only while there is contact; after a start not all of them have come yet. */
const connected = () => page.getByText(/\d+ signals (fresh|silent|suspect)/).waitFor();
const lost = () => page.getByText(/No contact with the box for/).waitFor();
/** The time in the top line, minutes of the day. */
async function clockMin(): Promise<number> {
  const [hours, minutes] = ((await page.locator('.clock').textContent()) ?? '').split(':').map(Number);
  return 60 * (hours ?? Number.NaN) + (minutes ?? Number.NaN);
}
/** The time of the rig as its server says it, minutes of the UTC day. */
async function rigMin(): Promise<number> {
  const { nowMs } = (await (await fetch(`${program.url}/api/now`)).json()) as { nowMs: number };
  return Math.floor(nowMs / MINUTE_MS) % 1440;
}

test('a page that loses the network says so, gives values their age, and is live again by itself with the time of the rig', async () => {
  await page.goto(`${program.url}/#/balance`);
  await connected();
  const zoneMin = (await clockMin()) - (await rigMin());
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Network.enable');
  const offline = (is: boolean) => cdp.send('Network.emulateNetworkConditions', { offline: is, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
  await offline(true);
  await page.evaluate("window.dispatchEvent(new Event('online'))");
  await lost();
  await page
    .locator('main')
    .getByText(/ old\b/)
    .first()
    .waitFor();
  await offline(false);
  await connected();
  expect(
    await page
      .locator('main')
      .getByText(/\bh old\b/)
      .count(),
  ).toBe(0);
  expect(Math.abs((await clockMin()) - (await rigMin()) - zoneMin)).toBeLessThanOrEqual(2);
});

test('a page follows its server through a kill, and through an upgrade to another build, at the same place', async () => {
  await page.goto(`${program.url}/#/alarms/rules`);
  await connected();
  const entry = () => page.evaluate("document.querySelector('script[type=module]').src").catch(() => 'between pages');
  const before = await entry();
  await page.evaluate('window.stays = true');
  await program.end('SIGKILL');
  await lost();
  await start('one');
  await connected();
  expect(await page.evaluate('window.stays')).toBe(true);
  await program.end('SIGKILL');
  await lost();
  await start('two');
  await expect.poll(entry, { timeout: 60_000 }).not.toBe(before);
  await connected();
  expect(page.url()).toMatch(/#\/alarms\/rules$/);
});
