import { existsSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import type { Page } from 'playwright-core';
import { PROJECT_ROOT } from '../project.ts';
import type { Bar } from './bar.ts';
import { openChromium, startBuilt, startMosquitto, temporaryFolder } from './processes.ts';

const MESSAGES = 400;
const EVERY_MS = 100;
/** Values that the screen shows with all their digits: whole watts under 1000. */
const FIRST_W = 100;

const rigText = (url: string) => `
rig: { id: latency, name: Latency }
bank: { cells: 8, capacityAh: 280 }
broker: { url: "${url}" }
signals:
  bank.voltage: { topic: bar/v }
  bank.current: { topic: bar/a }
  load.probe.power: { topic: bar/probe, every: 1 s }
`;

export const latencyBar: Bar = {
  name: 'latency',
  what: 'publish on a real Mosquitto to changed text in Chromium, 10 messages a second',
  async measure() {
    if (!existsSync('/usr/sbin/mosquitto') || !existsSync('/usr/bin/chromium')) return 'Mosquitto or Chromium is not installed';
    const folder = await temporaryFolder();
    const broker = await startMosquitto(folder.path);
    const rigPath = join(folder.path, 'rig.yaml');
    await writeFile(rigPath, rigText(broker.url));
    const program = await startBuilt(['--rig', rigPath, '--data', join(folder.path, 'data')], PROJECT_ROOT);
    const browser = await openChromium();
    try {
      const page = await browser.newPage();
      await page.goto(`${program.url}/#/sensors`);
      const latencies = await publishAndWatch(page, broker.url);
      const at = (share: number) => latencies[Math.min(latencies.length - 1, Math.ceil(share * latencies.length) - 1)] ?? Number.NaN;
      return [
        { name: 'p99 from publish to text', figure: Math.round(at(0.99)), unit: 'ms', bar: 350, sense: 'most' },
        { name: 'median of it', figure: Math.round(at(0.5)), unit: 'ms', bar: 350, sense: 'most' },
      ];
    } finally {
      await browser.close();
      await program.end();
      await broker.end();
      await folder.remove();
    }
  },
};

/** Runs in the page: notes every number of watts that a row shows, with the time. */
const WATCH = `{
  globalThis.shown = [];
  const row = [...document.querySelectorAll('li')].find((item) => item.textContent.includes('load.probe.power'));
  new MutationObserver(() => {
    const match = /(\\d+) W/.exec(row.textContent);
    if (match) shown.push([Number(match[1]), Date.now()]);
  }).observe(row, { subtree: true, childList: true, characterData: true });
}`;

/** Publishes rising numbers and notes when the page first shows each or a later one; ms, sorted. Both clocks are this machine's. */
async function publishAndWatch(page: Page, url: string): Promise<number[]> {
  const client = await connectAsync(url);
  const value = (index: number) => FIRST_W + index;
  await client.publishAsync('bar/probe', '1');
  await page.locator('li', { hasText: 'load.probe.power' }).waitFor();
  await page.evaluate(WATCH);
  const sentMs: number[] = [];
  const started = performance.now();
  for (let index = 0; index < MESSAGES; index += 1) {
    await setTimeout(Math.max(0, started + index * EVERY_MS - performance.now()));
    sentMs.push(Date.now());
    client.publish('bar/probe', String(value(index)));
  }
  await setTimeout(1500);
  await client.endAsync();
  const shown = (await page.evaluate('shown')) as [number, number][];
  return sentMs
    .map((ms, index) => (shown.find(([watts]) => watts >= value(index) && watts < FIRST_W + MESSAGES)?.[1] ?? Number.POSITIVE_INFINITY) - ms)
    .sort((a, b) => a - b);
}
