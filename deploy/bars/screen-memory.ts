import { setImmediate, setTimeout } from 'node:timers/promises';
import type { CDPSession } from 'playwright-core';
import { systemTimers, type Timers } from '../../dashboard/server/timers.ts';
import type { Bar } from './bar.ts';
import { startPlayedBox } from './screens/played-box.ts';
import { newDevice, onStage } from './screens/stage.ts';
import { swing } from './screens/swing.ts';
import { everyPart, goTo } from './screens/walk.ts';

const HOURS = 12;
/** A change of everything each second of the rig; more often a screen is not told of alarms. */
const STEP_MS = 1000;
/** So long a place stays open, in changes. */
const STAY = 600;
/** Changes that may be under way before the page is waited for. */
const AHEAD = 20;

/** Without the pauses that pace the live channel. */
const quick: Timers = { nowMs: systemTimers.nowMs, after: (_delayMs, work) => systemTimers.after(0, work) };

export const memoryBar: Bar = {
  name: 'screen-memory',
  what: `${HOURS} h of live updates, one a second and each of them rendered, played as fast as the page takes them, through every place`,
  measure: () =>
    onStage(async ({ demo, browser }) => {
      const box = await startPlayedBox(demo.url, { timers: quick });
      try {
        const page = await newDevice(browser, 'day');
        await box.lead(page);
        const parts = await everyPart(page, box.url);
        const cdp = await page.context().newCDPSession(page);
        const first = { ...box.view };
        const indexes = first.signals.map(({ index }) => index);
        let step = 0;
        const live = async (steps: number) => {
          for (let i = 0; i < steps; i += 1) {
            step += 1;
            swing(box.view, first, step, STEP_MS);
            // Changes of alarms are rendered at once, each by itself.
            box.change({ signals: indexes, parts: ['flows', 'bank', 'health', 'alarms', ...(step % STAY === 0 ? (['projection'] as const) : [])] });
            await setImmediate();
            if (i % AHEAD === 0) await page.evaluate('new Promise((settled) => requestAnimationFrame(() => settled(null)))');
          }
        };
        // Warm: every part has stood once, and the past of the rig is full.
        for (const part of parts) {
          await goTo(page, box.url, part);
          await live(2 * AHEAD);
        }
        const before = await heapMb(cdp, () => goTo(page, box.url, 'balance'));
        for (let stay = 0; stay < (HOURS * 3600) / STAY; stay += 1) {
          await goTo(page, box.url, parts[stay % parts.length] ?? 'balance');
          await live(STAY);
        }
        const after = await heapMb(cdp, () => goTo(page, box.url, 'balance'));
        return [{ name: `heap growth from ${before.toFixed(1)} MB`, figure: Math.max(0, after - before), unit: 'MB', bar: 2, sense: 'most' }];
      } finally {
        await box.close();
      }
    }),
};

/** What the page's script holds on to, on the first place and after two collections. */
async function heapMb(cdp: CDPSession, home: () => Promise<void>): Promise<number> {
  await home();
  await setTimeout(3000);
  await cdp.send('HeapProfiler.collectGarbage');
  await cdp.send('HeapProfiler.collectGarbage');
  return (await cdp.send('Runtime.getHeapUsage')).usedSize / 1e6;
}
