import { beforeEach, describe, expect, it } from 'vitest';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';

const screens = screensBench();
let faults: string[];
beforeEach(() => {
  faults = [];
  screens.page.on('pageerror', (error) => faults.push(error.message));
  screens.page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
});

const overflow = () => screens.page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth');
/** Buttons and links too small for a finger; what covers its whole row counts as its row. */
const small = () =>
  screens.page.evaluate(
    `[...document.querySelectorAll('main button, main a, main input, main select, main summary')].map((e) => {
      const after = getComputedStyle(e, '::after');
      const box = (after.position === 'absolute' ? e.closest('.row') : e.closest('.tick') ?? e).getBoundingClientRect();
      return [e.textContent || e.type, box];
    }).filter(([, r]) => r.height > 0 && (r.height < 44 || r.width < 44)).map(([t]) => t)`,
  );

describe('every part of Sensors', () => {
  for (const [size, viewport] of Object.entries(SIZES)) {
    for (const look of ['day', 'night'] as const) {
      it(`is accessible and fits its page (${size}, ${look})`, async () => {
        const { page } = screens;
        await page.setViewportSize(viewport);
        for (const part of ['signals', 'topics', 'boards', 'zero']) {
          await screens.open(`sensors/${part}`, look);
          await page.waitForLoadState('networkidle');
          if (part === 'signals') await page.getByRole('button', { name: 'Bank voltage' }).click();
          if (part === 'topics') {
            await page.getByRole('button', { name: /tank\/level/ }).click();
            await page.getByRole('button', { name: /^litres/ }).click();
            await page.getByLabel('What it is').selectOption('Cabin humidity');
            await page.getByText('How the number is read').click();
          }
          expect([part, await screens.violations(), await overflow(), await small()]).toEqual([part, [], 0, []]);
        }
        expect(await page.evaluate('window.attacked === undefined')).toBe(true);
        expect(faults).toEqual([]);
      });
    }
  }
});

describe('a signal', () => {
  it('opens by the keyboard and tells its day as a table too', async () => {
    const { page } = screens;
    await screens.open('sensors');
    const button = page.getByRole('button', { name: 'Bank voltage' });
    await button.focus();
    await page.keyboard.press('Enter');
    expect(await button.getAttribute('aria-expanded')).toBe('true');
    await page.getByText('As a table').click();
    // The hour without readings has no row.
    await page.getByRole('row').nth(23).waitFor();
    expect(await page.getByRole('row').count()).toBe(24);
  });
});

describe('a topic', () => {
  it('gives the focus to its mapping, and back when it is left', async () => {
    const { page } = screens;
    await screens.open('sensors/topics');
    await page.getByRole('button', { name: /tank\/level/ }).click();
    expect(await page.evaluate('document.activeElement.textContent')).toBe('Map a value');
    await page.getByRole('button', { name: 'Leave it' }).click();
    expect(await page.evaluate('document.activeElement.textContent')).toBe('One topic is used by no signal.');
  });
});
