import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { openChromium, type Running, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

/** A real evening is played: two hours over sunset, at a pace at which the sun goes down while the tests run. */
const RECORDING = join(ROOT, 'tests/fixtures/recordings/ridge-two-hours.jsonl.gz');
const RULE = `
alarms:
  - { id: dim-roof, title: The roof gives little, when: { watch: panels.power, below: 40000 }, priority: high, onDelay: 1 min }
`;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let program: Running & { url: string };
let browser: Browser;
/** Of the tablet on the wall, and of a phone. */
let wall: Page;
let phone: Page;

beforeAll(async () => {
  folder = await temporaryFolder();
  const rig = join(folder.path, 'rig.yaml');
  await writeFile(rig, (await readFile(join(ROOT, 'tests/fixtures/rigs/ridge.yaml'), 'utf8')) + RULE);
  program = await startBuilt(['--rig', rig, '--recording', RECORDING, '--pace', '40', '--data', join(folder.path, 'data')], ROOT);
  browser = await openChromium();
  [wall, phone] = await Promise.all([
    browser.newContext({ viewport: { width: 1280, height: 800 } }).then((device) => device.newPage()),
    browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true }).then((device) => device.newPage()),
  ]);
});
afterAll(async () => {
  await browser?.close();
  await program?.end();
  await folder?.remove();
});

const snapshot = () => snapshotOf(program.url);
const look = (page: Page) => page.evaluate('document.documentElement.dataset.look');

test('a recorded evening is live on the screens, with the verdict that the engine gives it', async () => {
  await wall.goto(program.url);
  const { projection } = await until(
    async () => (({ projection, ...rest }) => projection && { projection, ...rest })(await snapshot()),
    'a projection',
    program.said,
  );
  expect(projection.nights).toBe(0);
  // Not a night has been lived through: it says so rather than promise anything.
  await wall.getByRole('heading', { level: 1, name: /learning/i }).waitFor();
  await wall
    .getByText(/^\d+ % now$/)
    .or(wall.locator('.u-wrap'))
    .first()
    .waitFor();
  await wall.getByRole('img', { name: /Bank [\d.]+ k?W/ }).waitFor();
});

test('an alarm that is acknowledged on the phone is so on the wall, and on the server', async () => {
  await phone.goto(`${program.url}#/alarms`);
  await wall.goto(`${program.url}#/alarms`);
  const on = (page: Page) => page.getByRole('article', { name: /The roof gives little/ });
  await on(wall).getByRole('button', { name: 'Acknowledge' }).waitFor();
  await on(phone).getByRole('button', { name: 'Acknowledge' }).tap();
  await on(phone)
    .getByText(/acknowledged by/i)
    .first()
    .waitFor();
  await on(wall)
    .getByText(/acknowledged by/i)
    .first()
    .waitFor();
  expect(await on(wall).getByRole('button', { name: 'Acknowledge' }).count()).toBe(0);
  const alarm = (await snapshot()).alarms.find(({ title }) => title === 'The roof gives little');
  expect(alarm).toMatchObject({ lifecycle: 'acknowledged' });
});

describe('the night look', () => {
  test('comes when the sun goes down where the rig stands', async () => {
    await wall.goto(`${program.url}#/balance`);
    expect((await snapshot()).sun.isNight, 'the recording is not over sunset yet').toBe(false);
    expect(await look(wall)).toBe('day');
    await until(async () => (await look(wall)) === 'night', 'the night look', program.said);
    expect((await snapshot()).sun.isNight).toBe(true);
  });

  test('is held by hand, also after the page was loaded anew, and is dim enough for a dark cabin', async () => {
    await phone.goto(`${program.url}#/rig`);
    await phone.getByRole('button', { name: 'Day', exact: true }).tap();
    await expect.poll(() => look(phone)).toBe('day');
    await phone.getByRole('button', { name: 'Night', exact: true }).tap();
    await phone.reload();
    await expect.poll(() => look(phone)).toBe('night');
    for (const place of ['balance', 'tonight', 'nights', 'alarms', 'sensors', 'rig']) {
      await phone.goto(`${program.url}#/${place}`);
      await phone.locator('main h1, main h2').first().waitFor();
      const light = await lightOf(await phone.screenshot());
      // A white page is 1. Red ink lies at 0.35, and the loudest alarm at 0.46.
      expect(light.most, place).toBeLessThan(0.5);
      expect(light.mean, place).toBeLessThan(0.04);
    }
  });
});

/** Relative luminance of a picture, 0 black to 1 white: of its brightest point, and on average. */
async function lightOf(png: Buffer): Promise<{ most: number; mean: number }> {
  const page = await browser.newPage();
  try {
    await page.goto('about:blank');
    return (await page.evaluate(`(async () => {
      const bitmap = await createImageBitmap(await (await fetch('data:image/png;base64,${png.toString('base64')}')).blob());
      const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
      const context = canvas.getContext('2d');
      context.drawImage(bitmap, 0, 0);
      const { data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
      const linear = Array.from({ length: 256 }, (_, i) => (i / 255 <= 0.04045 ? i / 255 / 12.92 : ((i / 255 + 0.055) / 1.055) ** 2.4));
      let [most, sum] = [0, 0];
      for (let at = 0; at < data.length; at += 4) {
        const light = 0.2126 * linear[data[at]] + 0.7152 * linear[data[at + 1]] + 0.0722 * linear[data[at + 2]];
        most = Math.max(most, light);
        sum += light;
      }
      return { most, mean: sum / (data.length / 4) };
    })()`)) as { most: number; mean: number };
  } finally {
    await page.close();
  }
}
