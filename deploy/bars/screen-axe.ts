import axe from 'axe-core';
import type { Page } from 'playwright-core';
import type { Bar } from './bar.ts';
import { LOOKS, newDevice, onStage, PHONE, TABLET } from './screens/stage.ts';
import { everyPart, goTo } from './screens/walk.ts';

/** What keeps the page as it is from being accessible, a line each. */
export async function violationsOf(page: Page): Promise<string[]> {
  await page.evaluate(axe.source);
  const { violations } = (await page.evaluate("axe.run(document, { resultTypes: ['violations'] })")) as axe.AxeResults;
  return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html.slice(0, 160)).join(' ')}`);
}

export const axeBar: Bar = {
  name: 'screen-axe',
  what: 'rules of accessibility broken on any place or part, both looks, tablet and phone',
  measure: () =>
    onStage(async ({ demo, browser }) => {
      let broken = 0;
      for (const look of LOOKS) {
        for (const viewport of [TABLET, PHONE]) {
          const page = await newDevice(browser, look, { viewport });
          for (const part of await everyPart(page, demo.url)) {
            await goTo(page, demo.url, part);
            for (const line of await violationsOf(page)) {
              broken += 1;
              console.log(`  ${part}, ${look}, ${viewport.width} px: ${line}`);
            }
          }
          await page.context().close();
        }
      }
      return [{ name: 'rules broken', figure: broken, unit: '', bar: 0, sense: 'most' }];
    }),
};
