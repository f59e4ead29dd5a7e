import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openChromium, type Running, startBuilt, startMosquitto, temporaryFolder } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = (url: string) => `
rig: { id: lake, name: Lake }
bank: { cells: 8, capacityAh: 280 }
broker: { url: "${url}" }
signals:
  bank.voltage: { topic: lake/shunt, format: json, pointer: /v }
  bank.current: { topic: lake/shunt, format: json, pointer: /a }
`;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let broker: Running & { url: string };
let program: Running & { url: string };

beforeAll(async () => {
  folder = await temporaryFolder();
  broker = await startMosquitto(folder.path);
  await writeFile(join(folder.path, 'rig.yaml'), RIG(broker.url));
  program = await startBuilt(['--rig', join(folder.path, 'rig.yaml'), '--data', join(folder.path, 'data')], ROOT);
});

afterAll(async () => {
  await program?.end();
  await broker?.end();
  await folder?.remove();
});

test('a value published on a real broker appears and changes on the page, and an unmapped topic is found', async () => {
  const browser = await openChromium();
  const client = await connectAsync(broker.url);
  try {
    const page = await browser.newPage();
    const faults: string[] = [];
    page.on('pageerror', (error) => faults.push(error.message));
    page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
    await page.goto(`${program.url}/#/sensors`);
    const row = page.locator('li', { hasText: 'bank.voltage', has: page.locator('.value') });
    await row.waitFor();
    await client.publishAsync('lake/shunt', '{"v":26.31,"a":-12.5}');
    await row.getByText('26.31 V').waitFor();
    await client.publishAsync('lake/shunt', '{"v":26.29,"a":-12.4}');
    await row.getByText('26.29 V').waitFor();
    await client.publishAsync('lake/tank', '71');
    await page.evaluate("location.hash = '#/sensors/topics'");
    await page.getByRole('button', { name: 'lake/tank' }).waitFor();
    expect(faults).toEqual([]);
  } finally {
    await client.endAsync();
    await browser.close();
  }
});

test('SIGTERM ends it in order, with everything kept', async () => {
  await program.end();
  expect(program.child.exitCode).toBe(0);
});
