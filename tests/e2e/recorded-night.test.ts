import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { openChromium, type Running, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

/** From the afternoon of 18 June to the morning of the 19th, each topic thinned to a message in one or two minutes. */
const RECORDING = join(ROOT, 'tests/fixtures/recordings/mesa-one-night.jsonl.gz');
/** What really was, as those who made the recording say: lowest state of charge, %, and when; and that at the end. */
const TRUE_LOW = { pct: 37.9, clockMin: 6 * 60 + 36 };
const TRUE_END_PCT = 57.2;
/** The whole night lasts half a minute. */
const PACE = '2400';
/** Of the night and of the day look. */
const THEMES = { night: '#0b0504', day: '#e9e8e4' };

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let program: Running & { url: string };
let browser: Browser;
let page: Page;

beforeAll(async () => {
  folder = await temporaryFolder();
  browser = await openChromium();
  page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  const rig = join(folder.path, 'rig.yaml');
  await writeFile(rig, (await readFile(join(ROOT, 'tests/fixtures/rigs/mesa.yaml'), 'utf8')).replaceAll(/every: \d+ s/g, 'every: 120 s'));
  program = await startBuilt(['--rig', rig, '--recording', RECORDING, '--pace', PACE, '--data', join(folder.path, 'data')], ROOT);
  await page.goto(program.url);
});
afterAll(async () => {
  await browser?.close();
  await program?.end();
  await folder?.remove();
});

const look = async () => ({
  look: await page.evaluate('document.documentElement.dataset.look'),
  theme: await page.locator('meta[name=theme-color]').getAttribute('content'),
});
/** What the picture of flows says in words, once it says it. */
const flows = async (words: RegExp) => page.getByRole('img', { name: words }).waitFor({ timeout: 60_000 });

test('the night goes by on the balance: the bank carries it, the panels take over, and the look follows the sun', async () => {
  await until(async () => (await snapshotOf(program.url)).sun.isNight, 'the night', program.said);
  await expect.poll(look).toEqual({ look: 'night', theme: THEMES.night });
  await flows(/^(?=.*Mini-split \d+ W)(?=.*Bank [\d.]+ k?W)(?!.*Panels [1-9])/s);

  await until(async () => !(await snapshotOf(program.url)).sun.isNight, 'the sunrise', program.said);
  await expect.poll(look).toEqual({ look: 'day', theme: THEMES.day });
  await flows(/Panels \d{3,} W|Panels [\d.]+ kW/);
});

test('when the recording ends the balance says so, and stands as the box does', async () => {
  await page.getByText('The recording has ended: nothing new has come in since 10:59.').first().waitFor({ timeout: 60_000 });
  // What the last messages bring is still being worked out.
  const end = async () => (await snapshotOf(program.url)).bank?.socPct ?? 0;
  await until(async () => Math.abs((await end()) - TRUE_END_PCT) <= 1, 'the end of the recording', program.said);
  expect((await snapshotOf(program.url)).projection?.nights).toBe(1);
  await page.getByRole('heading', { level: 1, name: /^Learning: 1 of 5 nights\./ }).waitFor();
  await page.getByText(`${Math.round(await end())} % within`).waitFor();
});

const isTrue = (pct: number) => expect(Math.abs(pct - TRUE_LOW.pct), `${pct} %`).toBeLessThanOrEqual(1.5);

test('the ledger has the night with the low point that it really had, and opens it', async () => {
  await page.goto(`${program.url}#/nights`);
  const date = page.getByRole('link', { name: 'Thu 18 Jun' });
  const row = page
    .getByRole('table')
    .getByRole('row')
    .filter({ has: page.getByRole('link') });
  await row.filter({ has: date }).waitFor();
  expect(await row.count()).toBe(1);
  isTrue(Number.parseFloat((await row.locator('.low').textContent()) ?? ''));

  await date.click();
  await page.waitForURL(/#\/nights\/one\/2026-06-18$/);
  const title = page.getByRole('heading', { level: 1, name: /^Thu 18 Jun: lowest/ });
  const [, pct, hours, minutes] = /lowest (\d+)\s% at (\d\d):(\d\d)/.exec((await title.textContent()) ?? '') ?? [];
  isTrue(Number(pct));
  expect(Math.abs(60 * Number(hours) + Number(minutes) - TRUE_LOW.clockMin)).toBeLessThanOrEqual(30);
});
