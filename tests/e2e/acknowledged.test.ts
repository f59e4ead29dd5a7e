import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { freePort, openChromium, type Running, startBuilt, startMosquitto, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = (url: string) => `
rig: { id: lake, name: Lake }
bank: { cells: 8, capacityAh: 280, floor: 20 }
broker: { url: "${url}" }
signals:
  bank.voltage: { topic: lake/shunt, format: json, pointer: /v }
  bank.current: { topic: lake/shunt, format: json, pointer: /a }
alarms:
  - { id: fridge-pull, title: Something draws much, when: { watch: bank.current, below: -50 }, priority: high, onDelay: 0 s, offDelay: 0 s }
`;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let broker: Running & { url: string };
let client: MqttClient;
let sending: NodeJS.Timeout;
let program: Running & { url: string };
let browser: Browser;
let phone: Page;
let wall: Page;
let args: string[];
/** What the shunt measures now, A. */
let currentA = -80;

beforeAll(async () => {
  folder = await temporaryFolder();
  broker = await startMosquitto(folder.path);
  client = await connectAsync(broker.url);
  sending = setInterval(() => client.publish('lake/shunt', JSON.stringify({ v: 26.2, a: currentA })), 500);
  const rig = join(folder.path, 'rig.yaml');
  await writeFile(rig, RIG(broker.url));
  args = ['--rig', rig, '--data', join(folder.path, 'data'), '--port', String(await freePort())];
  program = await startBuilt(args, ROOT);
  browser = await openChromium();
  const device = async (width: number, height: number) => (await browser.newContext({ viewport: { width, height }, hasTouch: true })).newPage();
  [phone, wall] = [await device(390, 844), await device(1280, 800)];
});
afterAll(async () => {
  clearInterval(sending);
  await client?.endAsync(true);
  await browser?.close();
  await program?.end();
  await broker?.end();
  await folder?.remove();
});

const alarm = async () => (await snapshotOf(program.url)).alarms.find(({ id }) => id === 'fridge-pull');
const card = (page: Page) => page.getByRole('article', { name: 'Something draws much' });
const acknowledge = (page: Page) => card(page).getByRole('button', { name: 'Acknowledge' });
const isAcknowledged = async (page: Page) => {
  await card(page)
    .getByText(/acknowledged by .+ at \d\d:\d\d/i)
    .waitFor();
  expect(await acknowledge(page).count()).toBe(0);
};

test('an alarm acknowledged on the phone is so on the wall', async () => {
  await wall.goto(`${program.url}#/alarms`);
  await phone.goto(`${program.url}#/balance`);
  await acknowledge(wall).waitFor();
  // On the phone it stands over every place.
  const strip = phone.getByRole('region', { name: 'Alarm' });
  await strip.getByText('not acknowledged').waitFor();
  await strip.getByRole('button', { name: 'Acknowledge' }).tap();
  await strip.getByRole('button', { name: 'Acknowledge' }).waitFor({ state: 'detached' });
  await isAcknowledged(wall);
  expect(await alarm()).toMatchObject({ lifecycle: 'acknowledged', condition: true });
});

test('it stays so over a restart of the box, on pages that were left open, and goes when its cause goes', async () => {
  const before = await alarm();
  await program.end();
  await wall.getByText(/No contact with the box for/).waitFor();
  program = await startBuilt(args, ROOT);
  await phone.goto(`${program.url}#/alarms`);
  await isAcknowledged(phone);
  await wall.getByText(/No contact with the box for/).waitFor({ state: 'detached' });
  await isAcknowledged(wall);
  const { lifecycle, occurrence, sinceMs } = (await alarm()) ?? {};
  expect({ lifecycle, occurrence, sinceMs }).toEqual({ lifecycle: 'acknowledged', occurrence: before?.occurrence, sinceMs: before?.sinceMs });

  currentA = -4;
  await until(async () => (await alarm())?.lifecycle === 'normal', 'the end of the alarm', program.said);
  for (const page of [phone, wall]) await card(page).waitFor({ state: 'detached' });
});
