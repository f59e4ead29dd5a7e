import { describe, expect, it } from 'vitest';
import { answerOf, runAdvice, tonightAdvice } from '../../helpers/web-advice.ts';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';
import { evening, SCENARIOS } from '../../helpers/web-scenario.ts';
import { EVENING_MS, projection } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();
const REFUSAL = { code: 'TOO_BUSY', message: 'other questions are being worked on; ask again in some seconds', issues: [] };
const newProjection = (tMs: number) => screens.box.change({ serverMs: tMs, projection: { ...projection(EVENING_MS, 95.8, 37.6, 'holds'), tMs } });

describe('the advice for tonight', () => {
  it('says in words what can be done and where the energy goes, with its age, and keeps the cautions', async () => {
    await screens.open('tonight');
    const deeds = screens.page.getByRole('region', { name: 'What you can do' });
    await deeds.getByText('21°C is the coolest that holds').waitFor();
    await deeds.getByText('about 1.9 kWh of sun would go unused').waitFor();
    await deeds.getByText(/Worked out from the bank at 18:06, \d+ s ago\./).waitFor();
    expect(await deeds.getByText('What helps').count()).toBe(0);
    const energy = screens.page.getByRole('region', { name: "Where tonight's energy goes" });
    expect(await energy.getByRole('rowheader').allTextContents()).toEqual(['Mini-split', 'Standing loads', "Inverter's own draw", 'The panels still give']);
    await energy.getByText('Cooling 2.7 kWh').waitFor();
    await screens.page.getByText('Advice, not control').waitFor();
  });

  it('is asked anew with a projection, never two questions at a time, and only the newest of those that came meanwhile', async () => {
    let atOnce = 0;
    let most = 0;
    const open: (() => void)[] = [];
    screens.box.answerBy(async (question) => {
      most = Math.max(most, ++atOnce);
      await new Promise<void>((resolve) => open.push(resolve));
      atOnce--;
      return [200, answerOf(question, EVENING_MS + 60_000 * screens.box.questions.length)];
    });
    await screens.open('tonight');
    await expect.poll(() => screens.box.questions.length).toBe(1);
    await screens.page.getByText('It is being worked out.').first().waitFor();
    for (let i = 1; i <= 3; i++) {
      newProjection(EVENING_MS + i * 1000);
      await screens.page.waitForTimeout(300);
    }
    await screens.page.getByLabel('Draws, watts').fill('900');
    await screens.page.getByLabel('Runs, minutes').fill('50');
    await screens.page.getByRole('button', { name: 'Can I run it?' }).click();
    await screens.page.getByRole('button', { name: 'Working it out …' }).waitFor();
    for (let i = 0; i < 3; i++) {
      await expect.poll(() => open.length).toBe(i + 1);
      open[i]?.();
    }
    await screens.page.getByText('Yes: the bank holds').waitFor();
    await expect.poll(() => screens.box.questions.map(({ kind }) => kind).sort()).toEqual(['run', 'tonight', 'tonight']);
    expect(most).toBe(1);
  });

  it('blocks nothing when the box is busy: it says why, keeps the last answer, and asks again by itself', async () => {
    await screens.open('tonight');
    await screens.page.getByText('21°C is the coolest').waitFor();
    screens.box.answerBy(async () => [503, REFUSAL]);
    newProjection(EVENING_MS + 1000);
    await screens.page.getByText('No newer answer: other questions are being worked on').waitFor();
    await screens.page.getByText('21°C is the coolest').waitFor();
    await screens.page.getByLabel('Look at').focus();
    await screens.page.keyboard.press('ArrowRight');
    screens.box.answerBy(async () => [200, tonightAdvice(EVENING_MS + 1000)]);
    await expect.poll(() => screens.page.getByText('No newer answer').count(), { timeout: 20_000 }).toBe(0);
  });

  it('is not asked for any more after its place was left, also when the last question failed', async () => {
    let refuse = () => {};
    screens.box.answerBy(() => new Promise((resolve) => (refuse = () => resolve([503, REFUSAL]))));
    await screens.page.clock.install();
    await screens.open('tonight');
    await expect.poll(() => screens.box.questions.length).toBe(1);
    await screens.page.evaluate("location.hash = '#/nights'");
    await screens.page.getByRole('heading', { name: /^Nights/ }).waitFor();
    const refused = screens.page.waitForResponse((response) => response.url().endsWith('/api/advice'));
    refuse();
    await (await refused).finished();
    // Twice: what the answer sets off may come after the first.
    for (let i = 0; i < 2; i++) {
      await screens.page.evaluate("fetch('/api/health').then((answer) => answer.text())");
      await screens.page.clock.fastForward(60_000);
    }
    await screens.page.evaluate("fetch('/api/health').then((answer) => answer.text())");
    expect(screens.box.questions.length).toBe(1);
  });

  it('is not asked, nor shown, while nothing can be told', async () => {
    const base = evening();
    screens.box.play({ ...base, snapshot: { ...base.snapshot, projection: null } });
    await screens.open('tonight');
    await screens.page.getByText('It comes with the first projection').first().waitFor();
    expect(screens.box.questions).toEqual([]);
    newProjection(EVENING_MS);
    await screens.page.getByText('21°C is the coolest').waitFor();
    screens.box.change({ serverMs: EVENING_MS, projection: { ...projection(EVENING_MS, 50, 30, 'unknown') } });
    await expect.poll(() => screens.page.getByText('21°C is the coolest').count()).toBe(0);
  });

  it('names first what helps when the night falls short', async () => {
    screens.box.play(SCENARIOS.short());
    screens.box.answerBy(async () => [200, { ...tonightAdvice(), base: { ...tonightAdvice().base, holdsProbability: 0.4 } }]);
    await screens.open('tonight');
    await screens.page.getByText('never with anyone inside who depends on it').waitFor();
    expect(await screens.page.getByRole('region', { name: 'What you can do' }).locator('dt').first().textContent()).toBe('What helps');
  });
});

describe('"can I run it"', () => {
  it('works by keyboard alone, says what is wrong in words and where, and then the answer', async () => {
    const { page, box } = screens;
    await page.setViewportSize(SIZES.phone);
    await screens.open('tonight');
    await page.getByText('21°C is the coolest').waitFor();
    await page.getByLabel('Draws, watts').focus();
    await page.keyboard.type('much');
    await page.keyboard.press('Enter');
    await page.getByText('Enter the watts as a number.').waitFor();
    const told = await page.evaluate(
      "[document.activeElement.id, document.getElementById(document.activeElement.getAttribute('aria-describedby')).textContent]",
    );
    expect(told).toEqual(['run-watts', 'Enter the watts as a number.']);
    expect(await screens.violations()).toEqual([]);
    await page.getByLabel('Draws, watts').fill('900');
    await page.keyboard.press('Tab');
    await page.keyboard.type('50');
    await page.keyboard.press('Enter');
    await page.getByText('Yes: the bank holds 94 nights in 100.').waitFor();
    await page.getByText('Lowest voltage 25.4 V').waitFor();
    await expect.poll(() => box.questions.at(-1)).toMatchObject({ kind: 'run', powerW: 900, minutes: 50, peakW: null });
    expect(await page.locator('[aria-live=polite]', { hasText: 'Yes' }).count()).toBe(1);
  });

  it('asks for a time and a peak, and says what speaks against it', async () => {
    const { page, box } = screens;
    box.answerBy(async (q) => [
      200,
      q.kind === 'run' ? { ...runAdvice(), verdict: 'no', limits: ['above-surge'], inverterPeakW: 9000 } : answerOf(q, EVENING_MS),
    ]);
    await screens.open('tonight');
    await page.getByLabel('Draws, watts').fill('900');
    await page.getByLabel('Runs, minutes').fill('50');
    await page.getByLabel('Starts at').fill('6');
    await page.getByRole('button', { name: 'Can I run it?' }).click();
    await page.getByText('Enter when it starts').waitFor();
    await page.getByLabel('Starts at').fill('06:50');
    await page.getByLabel('Starting peak').fill('9000');
    await page.getByRole('button', { name: 'Can I run it?' }).click();
    await page.getByText('No: as it starts the inverter would carry 9.00 kW').waitFor();
    await page.getByText('900 W (9.00 kW as it starts) for 50 min from 06:50 tomorrow').waitFor();
    expect(box.questions.at(-1)).toMatchObject({ startMs: Date.UTC(2026, 10, 25, 6, 50), peakW: 9000 });
  });

  it('says why there is no answer', async () => {
    const { page, box } = screens;
    await screens.open('tonight');
    await page.getByText('21°C is the coolest').waitFor();
    box.answerBy(async () => [503, REFUSAL]);
    await page.getByLabel('Draws, watts').fill('900');
    await page.getByLabel('Runs, minutes').fill('50');
    await page.getByRole('button', { name: 'Can I run it?' }).click();
    await page.getByText('Not answered: other questions are being worked on').waitFor();
  });
});
