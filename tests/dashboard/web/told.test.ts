import { describe, expect, it } from 'vitest';
import { PLACES, screensBench } from '../../helpers/web-bench.ts';
import { evening, SCENARIOS } from '../../helpers/web-scenario.ts';
import { EVENING_MS, projection } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();

describe('an alarm that is over', () => {
  it('is told apart from one that stands, in words and in the top line, and can be acknowledged', async () => {
    const base = SCENARIOS.short();
    const alarms = base.snapshot.alarms.map((a) => ({ ...a, condition: false as const, lifecycle: 'returned' as const }));
    screens.box.play({ ...base, snapshot: { ...base.snapshot, alarms } });
    await screens.open('alarms');
    await screens.page.getByText('No alarm stands; one is over, not yet acknowledged.').waitFor();
    await screens.page.getByText('Over since 18:02, not yet acknowledged').waitFor();
    await screens.page.locator('header').getByText('No alarms, 1 over').waitFor();
    await screens.page.getByRole('button', { name: 'Acknowledge' }).waitFor();
    expect(await screens.page.getByText('High').count()).toBe(0);
  });
});

it('offers a device that may only look no acknowledging, and says why', async () => {
  screens.box.play(SCENARIOS.short());
  await screens.page.addInitScript("localStorage.setItem('dawnhold.role', 'viewer')");
  await screens.open('alarms');
  await screens.page.getByText('This device may only look.').waitFor();
  expect(await screens.page.getByRole('button', { name: 'Acknowledge' }).count()).toBe(0);
});

describe('what is wrong with the inflow or the rig file', () => {
  it('stands over the verdict while the broker is away, and goes when it is back', async () => {
    const { health } = evening().snapshot;
    await screens.open('balance');
    screens.box.change({ serverMs: EVENING_MS, health: { ...health, broker: 'lost', lastMessageMs: EVENING_MS - 1_800_000 } });
    await screens.page.locator('main').getByText('No contact with the broker: nothing new has come in since 17:36.').waitFor();
    await screens.page.locator('header').getByText('no contact with the broker').waitFor();
    screens.box.change({ serverMs: EVENING_MS, health });
    await expect.poll(() => screens.page.getByText(/contact with the broker/i).count()).toBe(0);
  });

  it('is told on every place when the last edit of the rig file is not in force', async () => {
    const base = evening();
    screens.box.play({ ...base, snapshot: { ...base.snapshot, rig: { ...base.snapshot.rig, rigFileFault: 'rig.yaml:3:9 bank.floor' } } });
    for (const place of PLACES) {
      await screens.open(place);
      await screens.page.getByRole('status').getByText('the last edit has a mistake and is not in force').waitFor();
    }
    await screens.open('balance');
    await screens.page.getByRole('link', { name: 'What is wrong' }).click();
    await screens.page.getByText('rig.yaml:3:9 bank.floor').waitFor();
  });
});

describe('what is not known', () => {
  it('is not drawn as zero in the balance, and an old value says its age at its foot', async () => {
    const base = evening();
    const states = base.snapshot.states.map((s) => (s.index === 0 ? { ...s, freshness: 'silent' as const, tMs: EVENING_MS - 720_000 } : s));
    const flows = base.snapshot.flows && { ...base.snapshot.flows, bankW: null, panelsW: null, minisplitW: null, loads: [], standingW: null, inverterW: null };
    screens.box.play({ ...base, snapshot: { ...base.snapshot, states, flows } });
    await screens.open('balance');
    await screens.page.getByText(/26\.3 V \(12 min old\) · 9\.4 A out of the bank/).waitFor();
    expect(await screens.page.locator('svg[role=img]').first().textContent()).not.toMatch(/\b0 W/);
  });

  it('is left out of what is expected tonight: a mini-split of which nothing is known', async () => {
    const base = evening();
    const p = base.snapshot.projection;
    const projection = p && {
      ...p,
      nights: 2,
      verdict: 'learning' as const,
      curve: p.curve.map((at) => ({ ...at, minisplitW: 0 })),
      energyWh: { ...p.energyWh, minisplit: 0 },
    };
    const states = base.snapshot.states.map((s) => (s.index === 4 ? { ...s, freshness: 'never' as const, tMs: null, value: null } : s));
    screens.box.play({ ...base, snapshot: { ...base.snapshot, projection, states } });
    await screens.open('tonight');
    await screens.page.getByRole('heading', { name: /^Learning: 2 of 5 nights\. Lowest about 58 %/ }).waitFor();
    await screens.page.getByText(/Expected: all loads with the mini-split 84 W, inverter 31 W/).waitFor();
    expect(await screens.page.locator('main').textContent()).not.toContain('mini-split 0 W');
  });
});

it('shows some of many unmapped topics, finds one by its name, and shows all when asked', async () => {
  const base = evening();
  const unmapped = Array.from({ length: 300 }, (_, i) => ({ topic: `boat/t${i}`, count: 1, lastMs: EVENING_MS, lastPayload: '1', retained: false }));
  screens.box.play({ ...base, sensors: { ...base.sensors, unmapped } });
  await screens.open('sensors/topics');
  const region = screens.page.getByRole('region', { name: '300 topics are used by no signal.' });
  const list = region.getByRole('listitem');
  await expect.poll(() => list.count()).toBe(10);
  await region.getByLabel('Find a topic').fill('T29');
  await expect.poll(() => list.count()).toBe(10);
  await region.getByRole('button', { name: 'Show all 11' }).click();
  await expect.poll(() => list.count()).toBe(11);
  await region.getByLabel('Find a topic').fill('t299');
  await expect.poll(() => list.count()).toBe(1);
  await region.getByLabel('Find a topic').fill('');
  await expect.poll(() => list.count()).toBe(300);
});

it('lists days with what the panels lost, and stays by place', async () => {
  await screens.open('nights/days');
  const { page } = screens;
  const days = page.getByRole('region', { name: 'By day' });
  await days.getByRole('row', { name: 'Mon 23 Nov 4.1 kWh 3.5 kWh 0.6 kWh' }).waitFor();
  await days.getByText('Lost: 1.7 kWh to cloud, 0.6 kWh to a full bank').waitFor();
  await days.getByText('cloud – it comes and goes').waitFor();
  await page.getByRole('region', { name: 'By place' }).getByText('near 41.23° N, 8.10° W').waitFor();
});

it('calls nothing out of the ordinary only while there is a projection and something comes in', async () => {
  const { page, box } = screens;
  const { snapshot, ...rest } = evening();
  const doubt = page.getByRole('region', { name: 'What makes it less sure' });
  await screens.open('tonight');
  box.change({ serverMs: EVENING_MS, projection: { ...projection(EVENING_MS, 95.8, 37.6, 'holds'), doubts: [] } });
  await doubt.getByText('Nothing out of the ordinary.').waitFor();
  box.change({ serverMs: EVENING_MS, states: snapshot.states.map((state) => ({ ...state, freshness: 'silent' as const })) });
  await doubt.getByText('Nothing new comes in').waitFor();
  box.play({ ...rest, snapshot: { ...snapshot, projection: null } });
  await doubt.getByText('Nothing is projected').waitFor();
  expect(await page.getByText('Nothing out of the ordinary.').count()).toBe(0);
});
