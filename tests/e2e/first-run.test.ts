import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { loadRigFile } from '../../collector/config/load.ts';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { openChromium, type Running, run, startMosquitto, temporaryFolder, until, untilOpen } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let broker: Running & { url: string };
let client: MqttClient;
let sending: NodeJS.Timeout;
let program: Running & { url: string };
let browser: Browser;
let page: Page;
let rig: string;

/** As somebody types it into a shell. */
async function npmStart(...more: string[]): Promise<Running & { url: string }> {
  const started = run('npm', ['start', '--', '--rig', rig, '--data', join(folder.path, 'data'), '--port', '0', ...more], { cwd: ROOT });
  return { ...started, url: await untilOpen(started, 'the screens') };
}

beforeAll(async () => {
  folder = await temporaryFolder();
  rig = join(folder.path, 'blue-wren.yaml');
  broker = await startMosquitto(folder.path);
  client = await connectAsync(broker.url);
  sending = setInterval(() => {
    client.publish('wren/shunt/amps', '-4.2');
    client.publish('wren/shunt/volts', '13.21');
    client.publish('wren/roof', '{"watts":63}');
  }, 400);
  browser = await openChromium();
  page = await (await browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true })).newPage();
});
afterAll(async () => {
  clearInterval(sending);
  await client?.endAsync(true);
  await browser?.close();
  await program?.end();
  await broker?.end();
  await folder?.remove();
});

/** Maps one of the three by touch, from the topic that carries it. */
async function map(label: string, topic: RegExp, value: string): Promise<void> {
  await page.getByRole('button', { name: `Map ${label.toLowerCase()}` }).tap();
  const leave = page.getByRole('button', { name: 'Leave it' });
  const choice = page.getByRole('button', { name: topic });
  await leave.or(choice.first()).first().waitFor();
  if (!(await leave.isVisible())) await choice.first().tap();
  await page.getByRole('group', { name: 'What it gives now' }).getByText(value).waitFor();
  await page.getByRole('button', { name: `Save as ${label}` }).tap();
  await page.getByRole('heading', { name: 'Three sensors are enough' }).waitFor();
}

test('a new rig with three topics is set up by touch, and ends with live flows', async () => {
  program = await npmStart('--new');
  await page.goto(program.url);
  await page.getByText('Setting up, 1 of 4').waitFor();
  expect(await page.getByLabel('Name', { exact: true }).inputValue()).toBe('Blue Wren');
  await page.getByLabel('Latitude').fill('39.6');
  await page.getByLabel('Longitude').fill('-8.1');
  const next = page.getByRole('button', { name: 'Save and go on' });
  await next.tap();
  await page.getByText('Setting up, 2 of 4').waitFor();
  await page.getByRole('button', { name: '12 V' }).tap();
  await page.getByLabel('Rated capacity').fill('200');
  await page.getByRole('region', { name: 'Panels' }).getByLabel('Rated power').fill('400');
  await next.tap();
  await page.getByText('Setting up, 3 of 4').waitFor();
  await page.getByRole('button', { name: 'A broker of yours' }).tap();
  await page.getByLabel('Its address').fill(broker.url);
  // The next step is asked for while this is still being saved.
  await page.getByRole('button', { name: 'Save and try it' }).tap();
  await next.tap();

  await page.getByText('Setting up, 4 of 4').waitFor();
  await page.getByText('3 topics heard.').waitFor();
  await map('Bank current', /wren\/shunt\/amps/, '−4.2 A');
  // The question is not lost with the page, and nothing goes on without its answer.
  await page.reload();
  await page.getByRole('button', { name: 'Map bank voltage' }).waitFor();
  await page.getByRole('group', { name: 'Is the bank charging now?' }).getByRole('button', { name: 'No, it discharges' }).tap();
  await map('Bank voltage', /wren\/shunt\/volts/, '13.21 V');
  await map('Panel power', /wren\/roof/, '63 W');
  await page.getByRole('button', { name: 'Go on' }).tap();

  await page.getByText('Setting up, the end').waitFor();
  // 13.21 V x 4.2 A out of the bank, and the panels.
  await page.getByRole('img', { name: /Panels 63 W.*Bank 55 W|Bank 55 W.*Panels 63 W/s }).waitFor();
  await page.getByRole('button', { name: 'Finish' }).tap();
  await expect.poll(() => page.evaluate('location.hash'), { timeout: 30_000 }).toBe('#/balance');
  await page.getByRole('heading', { level: 1 }).waitFor();

  const { file, text } = await loadRigFile(rig);
  expect(file).toMatchObject({
    rig: { id: 'blue-wren', name: 'Blue Wren' },
    bank: { cells: 4, capacityAh: 200 },
    panels: [{ watts: 400 }],
    place: { latitude: 39.6, longitude: -8.1 },
  });
  expect([...file.signals.specs.keys()].sort()).toEqual(['bank.current', 'bank.voltage', 'panels.power']);
  expect(text).not.toContain('settingUp');
});

test('started again without --new it is live at once, and the guide does not stand in the way', async () => {
  await program.end();
  program = await npmStart();
  const device = await (await browser.newContext()).newPage();
  await device.goto(program.url);
  await device.getByText('all 3 signals fresh').waitFor();
  expect(await device.getByText('Setting up').count()).toBe(0);
  const powers = async () => (await snapshotOf(program.url)).flows;
  await until(async () => Math.abs(((await powers())?.bankW ?? 0) + 55.5) < 1, 'the power of the bank', program.said);
  await device.context().close();
});
