import { describe, expect, it } from 'vitest';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';

const screens = screensBench();
const rule = (name: string) => screens.page.getByRole('article', { name, exact: true });

describe('how often a rule would have sounded', () => {
  it('is asked for one rule after the other, those in sight only', async () => {
    const { page, box } = screens;
    await screens.open('alarms/rules');
    await rule('The bank tonight').getByText('Over the last 30 nights this would have sounded on 10 of them, 20 times in all.').waitFor();
    const last = page.getByRole('article').last();
    const inSight = box.previewed.length;
    expect(inSight).toBeLessThan(await page.getByRole('article').count());
    await last.scrollIntoViewIfNeeded();
    await expect.poll(() => box.previewed.length).toBeGreaterThan(inSight);
    expect(new Set(box.previewed.map(({ id }) => id)).size).toBe(box.previewed.length);
  });

  for (const [size, viewport] of Object.entries(SIZES)) {
    it(`moves nothing when it comes, and has a table beside its picture (${size})`, async () => {
      const { page, box } = screens;
      let release = () => {};
      const held = new Promise<void>((resolve) => {
        release = resolve;
      });
      await page.route('**/api/rule-preview', async (route) => {
        await held;
        await route.continue();
      });
      await page.setViewportSize(viewport);
      await screens.open('alarms/rules');
      if (size === 'phone') await page.getByRole('button', { name: 'The bank tonight', exact: true }).click();
      const first = rule('The bank tonight');
      await first.getByText('are looked through').scrollIntoViewIfNeeded();
      const heights = () => page.getByRole('article').evaluateAll((all: { clientHeight: number }[]) => all.map(({ clientHeight }) => clientHeight));
      const before = await heights();
      release();
      await first.getByText('20 times in all').waitFor();
      expect(await heights()).toEqual(before);
      await first.getByText('Night by night').click();
      await expect.poll(() => first.getByRole('table').getByRole('row').count()).toBe(31);
      expect(await first.getByRole('row').nth(1).textContent()).toMatch(/:06 for 1 h, medium; .*:06 for 1 h, high$/);
      await first.getByText('What this leaves out').waitFor();
      expect(await screens.violations()).toEqual([]);
      expect(box.previewed.length).toBeGreaterThan(0);
    });
  }

  for (const [size, viewport] of Object.entries(SIZES)) {
    it(`follows what is typed, and says how that differs from the rule as it is (${size})`, async () => {
      const { page, box } = screens;
      await page.setViewportSize(viewport);
      await screens.open('alarms/rules');
      if (size === 'phone') await page.getByRole('button', { name: 'The bank tonight', exact: true }).click();
      await page.getByRole('button', { name: 'Change The bank tonight' }).click();
      const edited = page.getByRole('region', { name: 'How often it would have sounded' });
      await edited.getByText('As often as it is now.').waitFor();
      await page.getByLabel('Raised when it has lasted, minutes').fill('100');
      await edited.getByText('20 times fewer than as it is now.').waitFor();
      await edited.getByText('Over the last 30 nights this would not have sounded.').waitFor();
      expect(box.previewed.at(-1)).toMatchObject({ id: 'low-point', onDelay: 6000 });
      await page.getByLabel('Raised when it has lasted, minutes').fill('nonsense');
      await edited.getByText('is told here once all of it is filled in').waitFor();
      expect(await screens.violations()).toEqual([]);
      expect(await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth')).toBe(0);
    });
  }

  it('says why it cannot be told, in the words of the box', async () => {
    const { page } = screens;
    await screens.open('alarms/rules');
    await page.getByRole('button', { name: 'Add a rule of your own' }).click();
    const edited = page.getByRole('region', { name: 'How often it would have sounded' });
    await edited.getByText('is told here once all of it is filled in').waitFor();
    await page.locator('#new-0-0-watch').selectOption('cabin.temperature');
    await page.locator('#new-0-0-limit').fill('2000');
    await edited.getByText('expected under 1000 W').waitFor();
  });
});
