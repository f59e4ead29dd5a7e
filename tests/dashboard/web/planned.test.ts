import { describe, expect, it } from 'vitest';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';
import { evening } from '../../helpers/web-scenario.ts';
import { EVENING_MS } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();
const oven = { id: '3f0c1f5e-5a5a-4d0e-9b4e-0a8f3b1c2d10', name: 'oven', powerW: 900, startMs: EVENING_MS + 3_600_000, endMs: EVENING_MS + 6_600_000 };
const focused = () => screens.page.evaluate('document.activeElement.textContent');

/** Asks "can I run it" and waits for the answer. */
async function askFor900W() {
  await screens.page.getByText('21°C is the coolest').waitFor();
  await screens.page.getByLabel('Draws, watts').fill('900');
  await screens.page.getByLabel('Runs, minutes').fill('50');
  await screens.page.getByRole('button', { name: 'Can I run it?' }).click();
  await screens.page.getByText('Yes: the bank holds').waitFor();
}

describe('a load', () => {
  it('is planned after its answer and taken out again by keyboard alone, and the focus stays near', async () => {
    const { page, box } = screens;
    await page.setViewportSize(SIZES.phone);
    await screens.open('tonight');
    await page.getByText('None.').waitFor();
    expect(await page.getByRole('button', { name: 'Plan it' }).isDisabled()).toBe(true);
    await askFor900W();
    await page.getByLabel('Its name').focus();
    await page.keyboard.type('oven');
    await page.getByRole('button', { name: 'Plan it' }).focus();
    await page.keyboard.press('Enter');
    await expect.poll(focused).toContain('Planned: oven.');
    const startMs = (box.questions.at(-1) as { startMs: number }).startMs;
    expect(box.commands).toMatchObject([{ kind: 'plan-load', name: 'oven', powerW: 900, minutes: 50, startMs }]);
    expect(await page.getByRole('button', { name: 'Plan it' }).isDisabled()).toBe(true);
    expect(await screens.violations()).toEqual([]);
    await page.getByRole('button', { name: 'Take out oven, 900 W, 18:06 to 18:56' }).focus();
    await page.keyboard.press('Enter');
    await expect.poll(focused).toBe('Planned loads');
    await page.getByText('None.').waitFor();
    expect(box.commands[1]).toMatchObject({ kind: 'drop-load', loadId: box.commands[0]?.id });
  });

  it('without a name is called by its watts, and a new question may be planned anew', async () => {
    await screens.open('tonight');
    for (const count of [1, 2]) {
      await askFor900W();
      await screens.page.getByRole('button', { name: 'Plan it' }).click();
      await expect.poll(() => screens.page.getByRole('region', { name: 'Planned loads' }).getByText('the 900 W load').count()).toBe(count);
    }
  });

  it('is only looked at by a device that may only look, and nothing is offered where none can be planned', async () => {
    const { page, box } = screens;
    const base = evening();
    box.play({ ...base, snapshot: { ...base.snapshot, plan: [oven] } });
    await page.addInitScript("localStorage.setItem('dawnhold.role', 'viewer')");
    await screens.open('tonight');
    await page.getByText('900 W, 19:06 to 19:56').waitFor();
    await askFor900W();
    expect(await page.getByRole('button', { name: /Plan it|Take out/ }).count()).toBe(0);
    const { plan: _plan, ...snapshot } = base.snapshot;
    await page.evaluate("localStorage.removeItem('dawnhold.role')");
    box.play({ ...base, snapshot });
    await screens.open('tonight');
    await askFor900W();
    expect(await page.getByText(/Plan it|Planned loads/).count()).toBe(0);
  });
});
