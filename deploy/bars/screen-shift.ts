import { setTimeout } from 'node:timers/promises';
import type { Page } from 'playwright-core';
import type { Bar } from './bar.ts';
import { startPlayedBox } from './screens/played-box.ts';
import { newDevice, onStage, PHONE, TABLET } from './screens/stage.ts';
import { keepSwinging } from './screens/swing.ts';
import { everyPart, goTo } from './screens/walk.ts';

const STEP_MS = 250;
const SECONDS = 60;

/** Runs in the page: adds up what moves by itself from now on. */
const WATCH = `globalThis.shift = 0; new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) if (!entry.hadRecentInput) shift += entry.value;
}).observe({ type: 'layout-shift' })`;

export const shiftBar: Bar = {
  name: 'screen-shift',
  what: `what moves while values change for ${SECONDS} s, on every place and part, tablet and phone at once`,
  measure: () =>
    onStage(async ({ demo, browser }) => {
      const box = await startPlayedBox(demo.url);
      const stop = keepSwinging(box, STEP_MS);
      try {
        const parts = await everyPart(await newDevice(browser, 'day'), demo.url);
        let total = 0;
        for (const viewport of [TABLET, PHONE]) {
          const pages: Page[] = [];
          for (const part of parts) {
            const page = await newDevice(browser, 'day', { viewport });
            await box.lead(page);
            await goTo(page, box.url, part);
            pages.push(page);
          }
          await setTimeout(3000);
          for (const page of pages) await page.evaluate(WATCH);
          await setTimeout(SECONDS * 1000);
          for (const [i, page] of pages.entries()) {
            const shift = (await page.evaluate('shift')) as number;
            if (shift > 0) console.log(`  moves by ${shift.toFixed(4)}: ${parts[i]} at ${viewport.width} px`);
            total += shift;
            await page.context().close();
          }
        }
        return [{ name: 'layout shift while live, all together', figure: total, unit: '', bar: 0, sense: 'most' }];
      } finally {
        stop();
        await box.close();
      }
    }),
};
