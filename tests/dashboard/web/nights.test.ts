import { readFile } from 'node:fs/promises';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { startNightsBox } from '../../helpers/nights-box.ts';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';

const screens = screensBench();
let box: Awaited<ReturnType<typeof startNightsBox>>;
beforeEach(async () => {
  box = await startNightsBox(screens.webRoot);
});
afterEach(() => box.close());

async function open(part: string, look = 'day') {
  await screens.page.addInitScript(`localStorage.setItem('dawnhold.look', '${look}')`);
  await screens.page.goto(`${box.url}/#/${part}`);
  await screens.page.locator('main h1').first().waitFor();
}
/** Parts with what is there once they are whole. */
const PARTS = {
  nights: "main a[href*='/one/']",
  'nights/one': 'input[type=range]',
  'nights/compare': '.chart canvas',
  'nights/month': 'tfoot',
  'nights/days': 'main h2',
};
const VIEWPORTS = {
  tablet: [SIZES.tablet, 'night'],
  phone: [SIZES.phone, 'day'],
  upright: [{ width: 768, height: 1024 }, 'night'],
  small: [{ width: 1024, height: 768 }, 'day'],
} as const;
const rowNames = () => screens.page.locator('tbody th a').allTextContents();
const table = () => screens.page.getByRole('table', { name: 'Nights. A night' });

describe('the ledger', () => {
  it('is sorted by a press on a heading, filtered by place and month, and saved as it stands', async () => {
    const { page } = screens;
    await open('nights');
    await page.getByRole('heading', { name: /^Said at sunset, and what came: off by .* inside the range \d+ nights of 26\.$/ }).waitFor();
    await table().waitFor();
    expect((await rowNames()).slice(0, 2)).toEqual(['Mon 23 Nov', 'Sun 22 Nov']);
    await page.getByRole('button', { name: 'lowest' }).click();
    const lowest = page.getByRole('columnheader', { name: 'lowest', exact: true });
    expect(await lowest.getAttribute('aria-sort')).toBe('ascending');
    expect((await rowNames())[0]).toBe('Wed 18 Nov');
    await page.getByRole('button', { name: 'lowest' }).click();
    expect(await lowest.getAttribute('aria-sort')).toBe('descending');
    expect((await rowNames())[0]).toBe('Fri 20 Nov');
    await page.getByLabel('Month').selectOption({ label: 'October 2026' });
    expect(await rowNames()).toHaveLength(3);
    await page.getByLabel('Place', { exact: true }).selectOption({ label: 'near 41.20° N, 8.60° W (2)' });
    expect(await rowNames()).toHaveLength(0);
    await page.getByLabel('Month').selectOption({ label: 'all months' });
    expect(await rowNames()).toHaveLength(2);
    const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Save as a table (CSV)' }).click()]);
    expect(file.suggestedFilename()).toBe('nights.csv');
    const text = await readFile(await file.path(), 'utf8');
    expect(
      text
        .trimEnd()
        .split('\r\n')
        .map((line) => line.slice(0, 10)),
    ).toEqual(['night,plac', '2026-11-22', '2026-11-23']);
  });

  it('tells charges from elsewhere, what is estimated, and an outside whose highest was not kept', async () => {
    await open('nights');
    const row = (name: string) => screens.page.getByRole('row', { name });
    await row('Mon 23 Nov').getByText('2 higher').waitFor();
    await row('Sun 22 Nov').getByText('9 lower, outside the range said').waitFor();
    await row('Sat 21 Nov').getByText('about 1.6 kWh').waitFor();
    await row('Fri 20 Nov').getByText('2.1 kWh from other chargers; 0.8 kWh came in from no known source; kept out of learning').waitFor();
    await row('Thu 19 Nov').getByText('from 16°').waitFor();
  });

  it('says that it is fetched, not that there is nothing, until the nights are there', async () => {
    const { page } = screens;
    let answer = () => {};
    const held = new Promise<void>((done) => (answer = done));
    await page.route('**/api/nights?*', async (route) => {
      await held;
      await route.continue();
    });
    await open('nights');
    await page.getByRole('heading', { name: 'Said at sunset, and what came' }).waitFor();
    expect(await page.getByText('The nights are being fetched.').count()).toBe(1);
    answer();
    await page.getByRole('heading', { name: /off by/ }).waitFor();
  });

  it('goes on to say that nothing older is kept', async () => {
    await open('nights');
    await screens.page.getByRole('button', { name: 'Earlier nights' }).click();
    await screens.page.getByText('No earlier nights are kept.').waitFor();
    expect(await rowNames()).toHaveLength(26);
  });

  it('is a list on a phone, sorted by a choice', async () => {
    await screens.page.setViewportSize(SIZES.phone);
    await open('nights');
    const first = () => screens.page.getByRole('list', { name: 'Nights' }).getByRole('link').first().locator('strong').textContent();
    await screens.page.getByLabel('Sorted by').selectOption('lowest');
    await expect.poll(first).toBe('Wed 18 Nov');
    await screens.page.getByRole('button', { name: /^Turn the order round/ }).click();
    await expect.poll(first).toBe('Fri 20 Nov');
  });
});

describe('one night', () => {
  it('opens from its row, is scrubbed by keys, and keeps a note and the name of its place', async () => {
    const { page } = screens;
    await open('nights');
    await page.getByRole('link', { name: 'Sun 22 Nov' }).click();
    await page.getByRole('heading', { name: 'Sun 22 Nov: lowest 48 % at 08:30, 9 lower than said at sunset.' }).waitFor();
    const slider = page.getByRole('slider', { name: 'Moment of the night' });
    expect(await slider.getAttribute('aria-valuetext')).toMatch(/^08:30: /);
    await slider.focus();
    await page.keyboard.press('ArrowLeft');
    await expect.poll(() => slider.getAttribute('aria-valuetext')).toMatch(/^08:20: \d+ %\. Mini-split \d+ W, standing loads 60 W, inverter 20 W/);
    await page.getByLabel('Note of the night').fill('wind from the lake');
    await page.getByRole('button', { name: 'Keep the note' }).click();
    await page.getByText('Kept.', { exact: true }).waitFor();
    await page.getByLabel('What this place is called').fill('by the lake');
    await page.getByRole('button', { name: 'Keep the name' }).click();
    await page.getByText('Kept, for all nights here.').waitFor();
    await page.reload();
    await expect.poll(() => page.getByLabel('Note of the night').inputValue()).toBe('wind from the lake');
    await page.getByText('by the lake · times in Europe/Lisbon').waitFor();
    await page.getByRole('link', { name: 'Mon 23 Nov ›' }).click();
    await page.getByRole('heading', { name: /^Mon 23 Nov: lowest 59/ }).waitFor();
    expect(await page.getByLabel('Note of the night').inputValue()).toBe('');
    expect(await page.getByLabel('What this place is called').inputValue()).toBe('by the lake');
    const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Save the curves as a table (CSV)' }).click()]);
    expect((await readFile(await file.path(), 'utf8')).trimEnd().split('\r\n')).toHaveLength(145);
  });

  it('that is not kept says so', async () => {
    await open('nights/one/2026-01-01');
    await screens.page.getByText('no such night is kept').waitFor();
  });
});

describe('two nights', () => {
  it('are ticked in the ledger, or the last two, and compared figure by figure', async () => {
    const { page } = screens;
    await open('nights/compare');
    await page.getByRole('heading', { name: 'Sun 22 Nov fell to 48 %, Mon 23 Nov to 59 %: 11 points higher.' }).waitFor();
    await page.getByRole('link', { name: 'Ledger' }).click();
    await page.getByRole('checkbox', { name: 'Compare Fri 20 Nov' }).check();
    await page.getByRole('checkbox', { name: 'Compare Wed 18 Nov' }).check();
    await page.getByRole('link', { name: 'Compare the two' }).click();
    await page.getByRole('heading', { name: 'Wed 18 Nov fell to 41 %, Fri 20 Nov to 70 %: 29 points higher.' }).waitFor();
    await page.getByRole('row', { name: 'lowest 41 % 70 % 29 points higher' }).waitFor();
    await page.getByLabel('One night').selectOption('2026-11-19');
    await page.getByRole('heading', { name: /^Thu 19 Nov fell to 62/ }).waitFor();
  });
});

describe('a month', () => {
  it('has totals and means, and is one page on paper', async () => {
    const { page } = screens;
    await open('nights/month');
    await page.getByRole('heading', { name: 'Heron, nights of November 2026' }).waitFor();
    await page.getByRole('row', { name: /^23 nights totals, the lowest 41 % / }).waitFor();
    await page.getByText('Places: near 42.90° N, 7.10° W (21 nights) · near 41.20° N, 8.60° W (2 nights)').waitFor();
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    expect(pdf.match(/\/Type\s*\/Page\b/g)).toHaveLength(1);
    expect(await page.evaluate('matchMedia("print").matches')).toBe(false);
    await page.getByRole('link', { name: '‹ October 2026' }).click();
    await page.getByRole('row', { name: /^3 nights totals/ }).waitFor();
  });
});

describe('every part', () => {
  for (const [size, [viewport, look]] of Object.entries(VIEWPORTS)) {
    it(`is accessible, has room and is large enough for a finger (${size}, ${look})`, async () => {
      const { page } = screens;
      await page.setViewportSize(viewport);
      if (look === 'night') box.view.rig.units = 'us';
      for (const [part, shows] of Object.entries(PARTS)) {
        await open(part, look);
        await page.locator(shows).first().waitFor();
        expect([part, await screens.violations()]).toEqual([part, []]);
        const overflow = await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth');
        expect([part, overflow]).toEqual([part, 0]);
        const small = await page.evaluate(
          `[...document.querySelectorAll('main button, main a, main select, main summary, main label:has(input)')].map((e) => [e.textContent, e.getBoundingClientRect()]).filter(([, r]) => r.height > 0 && (r.height < 44 || r.width < 44)).map(([t]) => t)`,
        );
        expect([part, small]).toEqual([part, []]);
      }
    });
  }
});
