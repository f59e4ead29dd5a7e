import type { CDPSession } from 'playwright-core';
import { expect, it } from 'vitest';
import { PLACES, screensBench } from '../../helpers/web-bench.ts';

const screens = screensBench();

/** Goes from place to place so many times; each is made and taken down again. */
const wander = (times: number) =>
  screens.page.evaluate(`(async () => {
    const places = ${JSON.stringify(PLACES)};
    for (let i = 0; i < ${times}; i++) {
      location.hash = '#/' + places[i % places.length];
      await new Promise((settled) => setTimeout(settled, 10));
      await new Promise((settled) => requestAnimationFrame(settled));
    }
    location.hash = '#/balance';
  })()`);

/** What the page holds on to once it has come to rest. */
async function held(cdp: CDPSession): Promise<{ heapMb: number; nodes: number; listeners: number }> {
  await screens.page.waitForLoadState('networkidle');
  await screens.page.waitForTimeout(1500);
  await cdp.send('HeapProfiler.collectGarbage');
  await cdp.send('HeapProfiler.collectGarbage');
  const { metrics } = await cdp.send('Performance.getMetrics');
  const of = (wanted: string) => metrics.find(({ name }) => name === wanted)?.value ?? Number.NaN;
  return { heapMb: of('JSHeapUsedSize') / 1e6, nodes: of('Nodes'), listeners: of('JSEventListeners') };
}

it('a thousand places, each made and taken down, leave nothing behind', async () => {
  const cdp = await screens.page.context().newCDPSession(screens.page);
  await cdp.send('Performance.enable');
  await screens.open('balance');
  await wander(120);
  const before = await held(cdp);
  await wander(1000);
  const after = await held(cdp);
  expect(after.heapMb - before.heapMb).toBeLessThan(1);
  expect(after.nodes - before.nodes).toBeLessThan(500);
  expect(after.listeners - before.listeners).toBeLessThan(50);
  expect(before.nodes).toBeGreaterThan(100);
});
