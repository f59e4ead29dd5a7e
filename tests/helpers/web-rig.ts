import { expect } from 'vitest';
import type { screensBench } from './web-bench.ts';
import { evening, type WebScenario } from './web-scenario.ts';

/** What the tests of the Rig place and of the guide do again and again. */
export function rigHands(screens: ReturnType<typeof screensBench>) {
  return {
    withRig(part: Partial<WebScenario['snapshot']['rig']>): WebScenario {
      const base = evening();
      return { ...base, snapshot: { ...base.snapshot, rig: { ...base.snapshot.rig, ...part } } };
    },

    goTo: (hash: string) => screens.page.evaluate(`location.hash = '${hash}'`),

    /** What is wrong with the page as it is, for the eye, the finger and those who hear it. */
    async check(what: string) {
      const { page } = screens;
      expect([what, await screens.violations()]).toEqual([what, []]);
      expect([what, await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth')]).toEqual([what, 0]);
      const small = await page.evaluate(
        `[...document.querySelectorAll('button, a, input, select, textarea, summary')].map((e) => [e.id || e.textContent, e.getBoundingClientRect()]).filter(([, r]) => r.height > 0 && (r.height < 44 || r.width < 44)).map(([t]) => t)`,
      );
      expect([what, small]).toEqual([what, []]);
    },
  };
}
