import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { answerOf, runAdvice } from '../../helpers/web-advice.ts';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';
import { evening } from '../../helpers/web-scenario.ts';
import { EVENING_MS, H, projection } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();
const limits = () => screens.page.getByRole('region', { name: 'What you want of the bank' });
const edits = () => screens.box.commands.filter(({ kind }) => kind === 'edit-rig');

/** Where a chart stands: the night's curve, or what draws and gives. */
async function chart(page: Page, which: 'curve' | 'loads') {
  const box = await page
    .locator('.u-over')
    .nth(which === 'curve' ? 0 : 1)
    .boundingBox();
  if (!box) throw new Error('no chart');
  return box;
}

describe('the moment looked at', () => {
  const said = () => screens.page.locator('.moment').textContent();

  it('follows a pointer that is drawn along either chart, and the slider keeps with it', async () => {
    const { page } = screens;
    await screens.open('tonight');
    await page.getByText('Low point, about 08:35: 58 %').waitFor();
    const { x, y, width, height } = await chart(page, 'curve');
    await page.mouse.move(x + width * 0.3, y + height / 2);
    await page.mouse.down();
    // Noon to noon: two thirds of the width are four in the morning.
    await page.mouse.move(x + width * (2 / 3), y + height / 2, { steps: 4 });
    await expect.poll(said).toMatch(/^At 0[34]:[0-5]\d: 7\d %, between \d+ and \d+ %\./);
    await page.mouse.move(x + width * 2, y + height / 2);
    await page.mouse.up();
    await expect.poll(said).toMatch(/^At (11|12):/);
    const below = await chart(page, 'loads');
    await page.mouse.click(below.x + below.width / 2, below.y + below.height / 2);
    await expect.poll(said).toMatch(/^At (23:5\d|00:0\d): 81 %.*Expected: mini-split \d+ W, standing loads 84 W, inverter 31 W\./s);
    expect(await page.getByLabel('Look at').getAttribute('aria-valuetext')).toMatch(/^(23:5\d|00:0\d), 81 %, between/);
    expect(Math.abs(below.x - x)).toBeLessThan(1);
    expect(Math.abs(below.width - width)).toBeLessThan(1);
    await page.getByRole('button', { name: 'Low point' }).click();
    await page.getByText('Low point, about 08:35: 58 %').waitFor();
  });

  it('follows the keys, without moving anything', async () => {
    const { page } = screens;
    await screens.open('tonight');
    await page.getByText('Low point, about 08:35: 58 %').waitFor();
    const top = () => page.evaluate("document.querySelector('.u-over').getBoundingClientRect().top");
    const before = await top();
    expect(before).toBeGreaterThan(100);
    await page.getByLabel('Look at').focus();
    for (let i = 0; i < 3; i++) await page.keyboard.press('ArrowLeft');
    await page.getByText('At 08:06:').waitFor();
    await page.keyboard.press('Home');
    await page.getByText('At 18:06: 96 %').waitFor();
    expect(await top()).toBe(before);
  });

  it('follows a finger that glides along, and leaves up and down to the page', async () => {
    await screens.changeDevice({ viewport: SIZES.phone, hasTouch: true, isMobile: true });
    const { page } = screens;
    await screens.open('tonight');
    await page.getByText('Low point, about 08:35: 58 %').waitFor();
    const { x, y, width, height } = await chart(page, 'curve');
    await page.touchscreen.tap(x + width / 2, y + height / 2);
    await expect.poll(said).toMatch(/^At (23:5\d|00:0\d):/);
    const touch = await page.evaluate("getComputedStyle(document.querySelector('.u-over').closest('.host')).touchAction");
    expect(touch).toBe('pan-y');
  });
});

describe('a load that is thought about', () => {
  const oven = { name: 'oven', powerW: 900, minutes: 50, peakW: null };

  it('is offered from what was planned here and is measured, asked about by itself, and started where the person looks', async () => {
    const { page, box } = screens;
    await page.addInitScript(`localStorage.setItem('dawnhold.loads', '${JSON.stringify([oven, { name: 'broken' }])}')`);
    await screens.open('tonight');
    const offered = page.getByRole('list', { name: 'Your loads' }).getByRole('button');
    await expect.poll(() => offered.allInnerTexts()).toEqual(['oven 900 W, 50 min', 'fridge 46 W']);
    await page.getByText('21°C is the coolest').waitFor();
    await page.getByLabel('Look at').focus();
    await page.keyboard.press('Home');
    await page.keyboard.press('PageUp');
    await offered.first().click();
    await page.getByText('Yes: the bank holds 94 nights in 100.').waitFor();
    expect(box.questions.filter(({ kind }) => kind === 'run')).toMatchObject([{ powerW: 900, minutes: 50, confidence: 0.9 }]);
    await page.getByRole('button', { name: 'Where I look' }).click();
    await expect.poll(() => page.getByLabel('Starts at').inputValue()).not.toBe('');
    await expect.poll(() => box.questions.filter(({ kind }) => kind === 'run').length).toBe(2);
    const at = box.questions.at(-1);
    expect(at?.kind === 'run' && at.startMs > EVENING_MS + 600_000 && at.startMs % 60_000 === 0).toBe(true);
    await page.getByRole('button', { name: 'Starts: a quarter of an hour later' }).click();
    await expect.poll(() => page.getByLabel('Starts at').inputValue()).toMatch(/:(00|15|30|45)$/);
    await page.getByRole('button', { name: 'Clear' }).click();
    await expect.poll(() => page.getByText('Yes: the bank holds').count()).toBe(0);
  });

  it('draws its effect on the curve while it is edited, changes list and low point when planned, and is taken out and put back', async () => {
    const { page, box } = screens;
    await screens.open('tonight');
    await page.getByText('21°C is the coolest').waitFor();
    const picture = () => page.evaluate("document.querySelector('.u-wrap canvas').toDataURL()");
    const before = await picture();
    await page.getByLabel('Draws, watts').fill('900');
    await page.getByLabel('Runs, minutes').fill('50');
    await page.getByText('lowest 47 % this night, 58 % without it').waitFor();
    await expect.poll(async () => (await picture()) !== before).toBe(true);
    await page.getByLabel('Its name').fill('oven');
    await page.getByRole('button', { name: 'Plan it' }).click();
    const list = page.getByRole('region', { name: 'Planned loads' });
    // 750 Wh of 276.4 Ah at 26.31 V.
    await list.getByText('about 10 points').waitFor();
    box.change({ serverMs: EVENING_MS, projection: projection(EVENING_MS, 95.8, 48.6, 'holds') });
    await page.getByRole('heading', { name: 'Lowest 47 % at 08:35, 12 points above the floor.' }).waitFor();
    expect(await page.getByRole('list', { name: 'Your loads' }).getByRole('button').first().textContent()).toBe('oven 900 W, 50 min');
    await list.getByRole('button', { name: /^Take out oven/ }).click();
    await list.getByText('Taken out: oven.').waitFor();
    await list.getByText('None.').waitFor();
    await list.getByRole('button', { name: 'Put it back' }).click();
    await list.getByText('about 10 points').waitFor();
    expect(box.commands.map(({ kind }) => kind)).toEqual(['plan-load', 'drop-load', 'plan-load']);
    expect(box.commands[2]).toMatchObject({ name: 'oven', powerW: 900, minutes: 50 });
    expect(await screens.violations()).toEqual([]);
  });

  it('says at the field what it cannot read, and leaves no old answer beside it', async () => {
    const { page } = screens;
    await screens.open('tonight');
    await page.getByText('21°C is the coolest').waitFor();
    const [watts, time] = [page.getByLabel('Draws, watts'), page.getByLabel('Starts at')];
    const faultOf = async (field: typeof watts) => page.locator(`#${await field.getAttribute('aria-describedby')}`).allTextContents();
    await watts.fill('900');
    await page.getByLabel('Runs, minutes').fill('50');
    await page.getByText('lowest 47 % this night, 58 % without it').waitFor();
    await watts.fill('abc');
    await expect.poll(() => faultOf(watts)).toEqual(['Enter the watts as a number.']);
    expect(await watts.getAttribute('aria-invalid')).toBe('true');
    expect(await page.getByText('lowest 47 % this night').count()).toBe(0);
    await watts.fill('900');
    await page.getByText('lowest 47 % this night').waitFor();
    await time.fill('25:99');
    await expect.poll(() => faultOf(time)).toEqual(['Enter when it starts, as hours and minutes.']);
    expect(await page.getByText('lowest 47 % this night').count()).toBe(0);
  });

  it('says in words what speaks against it, and why it was not planned', async () => {
    const { page, box } = screens;
    box.answerBy(async (q) => [200, q.kind === 'run' ? { ...runAdvice(), verdict: 'no', limits: ['above-rating'], inverterW: 2400 } : answerOf(q, EVENING_MS)]);
    await screens.open('tonight');
    await page.getByText('21°C is the coolest').waitFor();
    await page.getByLabel('Draws, watts').fill('1900');
    await page.getByLabel('Runs, minutes').fill('5');
    await page.getByText('No: the inverter would carry 2.40 kW, more than the 2.00 kW it is made for.').waitFor();
    box.refuseCommands('20 loads are planned already; take one out first');
    await page.getByRole('button', { name: 'Plan it' }).click();
    await page.getByText('Not planned: 20 loads are planned already; take one out first').waitFor();
    expect(await page.getByLabel('Draws, watts').inputValue()).toBe('1900');
  });
});

describe('floor and confidence', () => {
  it('change the sentence at once, are saved when the hand rests, and are taken back with one touch', async () => {
    const { page, box } = screens;
    await screens.open('tonight');
    await page.getByRole('heading', { name: 'Lowest 58 % at 08:35, 23 points above the floor.' }).waitFor();
    await limits().getByText('98 nights in 100 stay above 35 %; you want 90 in 100.').waitFor();
    await limits()
      .getByRole('slider', { name: /^Floor/ })
      .focus();
    for (let i = 0; i < 5; i++) await page.keyboard.press('ArrowRight');
    await page.getByRole('heading', { name: '18 points above the floor.' }).waitFor();
    await limits()
      .getByText(/about .+ nights in 100 stay above 40\s%/)
      .waitFor();
    await expect.poll(() => edits().length).toBe(1);
    expect(edits()).toMatchObject([{ hash: 'r1', change: { what: 'floor', floorPct: 40 } }]);
    await limits().getByText('Saved in the rig file.').waitFor();
    // In force, and the projection still counts for the old floor.
    await page.getByRole('heading', { name: '18 points above the floor.' }).waitFor();
    await limits().getByRole('button', { name: 'Back to 35 %' }).click();
    await page.getByRole('heading', { name: '23 points above the floor.' }).waitFor();
    await expect.poll(() => edits().at(-1)).toMatchObject({ change: { what: 'floor', floorPct: 35 } });
    await limits().getByRole('button', { name: 'How sure: more' }).click();
    await limits().getByText('you want 91 in 100.').waitFor();
    await expect.poll(() => edits().at(-1)).toMatchObject({ change: { what: 'confidence', confidencePct: 91 } });
    await expect.poll(() => box.questions.at(-1)).toMatchObject({ kind: 'tonight', confidence: 0.91 });
    expect(await screens.violations()).toEqual([]);
  });

  it('mark by word the setpoints that hold too rarely for the owner', async () => {
    const { page, box } = screens;
    await screens.open('tonight');
    const row = (name: string) => page.getByRole('region', { name: 'Setpoint ladder' }).getByRole('row', { name });
    await row('24° set now').waitFor();
    expect(await row('24° set now').textContent()).not.toMatch(/tight|short/);
    const { rig, ...rest } = evening().snapshot;
    box.play({ ...evening(), snapshot: { ...rest, rig: { ...rig, confidencePct: 99 }, projection: projection(EVENING_MS, 95.8, 52, 'holds') } });
    await expect.poll(() => row('24° set now').textContent()).toMatch(/97 in 100\s+tight/);
    expect(await row('21°').textContent()).toMatch(/short|tight/);
  });

  it('are told of every setpoint at a touch, near the one in force at first', async () => {
    const { page } = screens;
    await screens.open('tonight');
    const ladder = page.getByRole('region', { name: 'Setpoint ladder' });
    const whole = evening().snapshot.projection?.ladder.length ?? 0;
    expect(whole).toBeGreaterThan(7);
    await expect.poll(() => ladder.getByRole('row').count()).toBe(1 + 7);
    await ladder.getByRole('button', { name: `All ${whole} settings` }).click();
    await expect.poll(() => ladder.getByRole('row').count()).toBe(1 + whole);
    expect(await screens.violations()).toEqual([]);
    await ladder.getByRole('button', { name: 'Those near the setpoint' }).click();
    await expect.poll(() => ladder.getByRole('row').count()).toBe(1 + 7);
  });

  it('stand again as they were when the box refuses, and are only looked at by a device that may only look', async () => {
    const { page, box } = screens;
    box.refuseCommands('the rig file changed meanwhile; look again, and repeat the edit if it still fits');
    await screens.open('tonight');
    await limits().getByRole('button', { name: 'Floor: less' }).click();
    await page.getByRole('heading', { name: '24 points above the floor.' }).waitFor();
    await limits().getByText('Not saved: the rig file changed meanwhile').waitFor();
    await page.getByRole('heading', { name: '23 points above the floor.' }).waitFor();
    await page.addInitScript("localStorage.setItem('dawnhold.role', 'viewer')");
    await page.reload();
    await limits().getByText('This device may only look.').waitFor();
    expect(await limits().getByRole('button').count()).toBe(0);
    expect(await limits().getByRole('slider').count()).toBe(0);
  });
});

it('shows the cabin that each setpoint gives, in the units of the rig, and fits a phone', async () => {
  const { page, box } = screens;
  const base = evening();
  const p = base.snapshot.projection;
  const ladder = p?.ladder.map((rung) => ({ ...rung, cabinC: rung.setpointC + 0.4, cabinRhPct: 52 })) ?? [];
  const plan = [{ id: '3f0c1f5e-5a5a-4d0e-9b4e-0a8f3b1c2d10', name: 'oven', powerW: 900, startMs: EVENING_MS + H, endMs: EVENING_MS + 2 * H }];
  box.play({ ...base, snapshot: { ...base.snapshot, rig: { ...base.snapshot.rig, units: 'us' }, plan, projection: p && { ...p, ladder } } });
  await page.setViewportSize(SIZES.phone);
  await screens.open('tonight', 'night');
  const now = page.getByRole('region', { name: 'Setpoint ladder' }).getByRole('row', { name: '75° set now 76° 52 % humidity' });
  await now.waitFor();
  expect(await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth')).toBe(0);
  expect(await page.getByText('not built yet').count()).toBe(0);
  expect(await screens.violations()).toEqual([]);
});

it('moves nothing while values change and projections come', async () => {
  const { page, box } = screens;
  await screens.open('tonight');
  await page.getByText('21°C is the coolest').waitFor();
  await page.evaluate('document.fonts.ready.then(() => new Promise((settled) => requestIdleCallback(() => settled(null))))');
  await page.evaluate(`window.shifts = []; new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) for (const { node } of entry.sources) window.shifts.push((node?.nodeType === 1 ? node : node?.parentElement)?.outerHTML.slice(0, 200) ?? 'gone');
  }).observe({ type: 'layout-shift' })`);
  const { states } = evening().snapshot;
  for (let i = 0; i < 12; i++) {
    const serverMs = EVENING_MS + i * 1000;
    const changed = states.map((state) => ({ ...state, tMs: serverMs, value: (state.value ?? 0) * (1 + 0.2 * Math.sin(i + state.index)) }));
    box.change({ serverMs, states: changed, ...(i % 4 === 0 ? { projection: { ...projection(EVENING_MS, 95.8, 30 + i, 'holds'), tMs: serverMs } } : {}) });
    await page.waitForTimeout(250);
  }
  await page.getByRole('heading', { name: 'Lowest 58 % at 08:35' }).waitFor();
  expect(await page.evaluate('window.shifts')).toEqual([]);
});
