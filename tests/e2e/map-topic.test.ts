import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import axe from 'axe-core';
import type { MqttClient } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { openChromium, type Running, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { publisher, RealBroker } from '../collector/mqtt/real-broker.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = (port: number) => `# Our van
rig: { id: lake, name: Lake, units: metric }
bank: { cells: 8, capacityAh: 280, floor: 20 } # two in parallel
broker: { url: "mqtt://127.0.0.1:${port}" }
signals:
  # the shunt under the bed
  bank.voltage: { topic: lake/shunt, format: json, pointer: /v, every: 2 s }
  bank.current: { topic: lake/shunt, format: json, pointer: /a, every: 2 s } # red wire first
`;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let broker: RealBroker;
let program: Running & { url: string };
let browser: Browser;
let page: Page;
let client: MqttClient;
let sending: NodeJS.Timeout;
let rig: string;

beforeAll(async () => {
  folder = await temporaryFolder();
  broker = await RealBroker.make();
  await broker.start();
  rig = join(folder.path, 'rig.yaml');
  await writeFile(rig, RIG(broker.port));
  program = await startBuilt(['--rig', rig, '--data', join(folder.path, 'data')], ROOT);
  client = await publisher(broker.port);
  sending = setInterval(() => {
    client.publish('lake/shunt', JSON.stringify({ v: 26.4, a: 0.42 }));
    client.publish('lake/cabin/air', JSON.stringify({ id: '<b>x</b>', air: { tempF: 71.6, hum: 48 } }));
  }, 500);
  browser = await openChromium();
  page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
});
afterAll(async () => {
  clearInterval(sending);
  client?.end(true);
  await browser?.close();
  await program?.end();
  await broker?.dispose();
  await folder?.remove();
});

const seen = async (name: string): Promise<number | null> => {
  const { signals, states } = await snapshotOf(program.url);
  return states[signals.findIndex((signal) => signal.name === name)]?.value ?? null;
};
const violations = async () => {
  await page.evaluate(axe.source);
  const found = (await page.evaluate('axe.run(document)')) as axe.AxeResults;
  return found.violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' ')}`);
};

test('a value is touched, named, seen before it is saved, and then live; the file keeps its comments', async () => {
  await page.goto(`${program.url}#/sensors/topics`);
  await page.getByRole('button', { name: /lake\/cabin\/air/ }).click();
  await page.getByRole('button', { name: /^hum/ }).click();
  expect(await page.getByRole('button', { name: /^Cabin humidity/ }).getAttribute('aria-pressed')).toBe('true');
  await page.getByRole('button', { name: /^tempF/ }).click();
  await page.getByRole('button', { name: '°C' }).click();
  await page.getByText('In degF it would be 22 degrees Celsius').waitFor();
  await page.getByRole('button', { name: '°F' }).click();
  await page.getByRole('group', { name: 'What it gives now' }).getByText('22.0°C').waitFor();
  expect(await violations()).toEqual([]);
  expect(await seen('cabin.temperature')).toBeNull();

  await page.getByRole('button', { name: 'Save as Cabin temperature' }).click();
  await page.getByText('Cabin temperature is in the rig file now.').waitFor();
  const text = await readFile(rig, 'utf8');
  expect(text).toMatch(/cabin\.temperature:\s+topic: lake\/cabin\/air\s+format: json\s+pointer: \/air\/tempF\s+unit: degF\s*$/);
  for (const kept of ['# Our van', '# two in parallel', '# the shunt under the bed', '# red wire first']) expect(text).toContain(kept);
  await until(async () => Math.abs(((await seen('cabin.temperature')) ?? 0) - 22) < 0.01, 'the cabin on the screens', program.said);

  await page.goto(`${program.url}#/sensors`);
  await page.getByRole('button', { name: 'Cabin temperature' }).click();
  expect(await violations()).toEqual([]);
  await page.getByRole('button', { name: 'Take it out' }).click();
  await page.getByText('The cabin drops out of the projection').waitFor();
  await page.getByRole('button', { name: 'Yes, take it out' }).click();
  await page.getByRole('button', { name: 'Cabin temperature' }).waitFor({ state: 'detached' });
  expect(await readFile(rig, 'utf8')).toBe(RIG(broker.port));
});

test('a sign is turned round with its mapping open, and what the file says otherwise stays', async () => {
  await page.goto(`${program.url}#/sensors`);
  await page.getByRole('button', { name: 'Bank current' }).click();
  await page.getByRole('button', { name: 'Change how it is read' }).click();
  await page.getByText('0.4 A into the bank: it is charging.').waitFor();
  await page.getByRole('button', { name: 'It is the other way round' }).click();
  await page.getByText('0.4 A out of the bank: it is discharging.').waitFor();
  await page.getByRole('button', { name: 'Save as Bank current' }).click();
  await until(async () => (await seen('bank.current')) === -0.42, 'the current turned round', program.said);
  expect(await readFile(rig, 'utf8')).toMatch(/bank\.current: .*pointer: \/a, .*every: 2 s.*chargingIs: negative.*# red wire first/);
});

test('a zero is set when it has been steady, and undone', async () => {
  await page.goto(`${program.url}#/sensors/zero`);
  // It has to be steady for most of a minute.
  await page.getByRole('button', { name: 'Set zero: −0.42 A' }).click({ timeout: 120_000 });
  await until(async () => (await seen('bank.current')) === 0, 'a current of nothing', program.said);
  expect(await readFile(rig, 'utf8')).toContain('offset: -0.42');
  expect(await violations()).toEqual([]);
  await page.getByRole('button', { name: /^Undo/ }).click();
  await until(async () => (await seen('bank.current')) === -0.42, 'the current as before', program.said);
  expect(await readFile(rig, 'utf8')).not.toContain('offset: -0.42');
});
