import { expect, test } from 'vitest';
import { restedBank, storedWh } from '../../../deploy/demo/bank.ts';
import { createSimulatedRig, DEMO_SEED, type DemoMessage, type RigTruth } from '../../../deploy/demo/rig.ts';

const START_MS = Date.UTC(2026, 10, 10);
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

/** All messages of a rig's life up to a time. */
function messagesOf(rig: ReturnType<typeof createSimulatedRig>, toMs: number): DemoMessage[] {
  const messages: DemoMessage[] = [];
  rig.advance(toMs, (message) => messages.push(message));
  return messages;
}

/** What was really so, step by step. */
function live(seed: number, startMs: number, days: number, stepMs: number): RigTruth[] {
  const rig = createSimulatedRig({ seed, startMs, cadenceS: 600 });
  return Array.from({ length: (days * DAY_MS) / stepMs }, (_, i) => {
    rig.advance(startMs + (i + 1) * stepMs, () => {});
    const truth = rig.truth();
    if (truth === null) throw new Error('the rig did not live');
    return truth;
  });
}

test('two rigs of one seed send the same messages, however they are led through time', () => {
  const whole = messagesOf(createSimulatedRig({ seed: 4, startMs: START_MS }), START_MS + DAY_MS);
  const rig = createSimulatedRig({ seed: 4, startMs: START_MS });
  const parts: DemoMessage[] = [];
  for (let tMs = START_MS; tMs < START_MS + DAY_MS; tMs += 777_777) parts.push(...messagesOf(rig, tMs));
  parts.push(...messagesOf(rig, START_MS + DAY_MS));
  expect(parts).toEqual(whole);
  expect(whole.length).toBeGreaterThan(30_000);
  expect(messagesOf(createSimulatedRig({ seed: 5, startMs: START_MS }), START_MS + HOUR_MS)).not.toEqual(whole.slice(0, 1500));
});

test('a restored rig goes on exactly where the other stopped', () => {
  const first = createSimulatedRig({ seed: 4, startMs: START_MS });
  messagesOf(first, START_MS + 19 * HOUR_MS);
  const second = createSimulatedRig({ seed: 4, startMs: 0, stateJson: first.stateJson() });
  expect(second).toMatchObject({ restored: true, tMs: first.tMs });
  expect(messagesOf(second, START_MS + 40 * HOUR_MS)).toEqual(messagesOf(first, START_MS + 40 * HOUR_MS));
  expect(second.stateJson()).toBe(first.stateJson());
});

test('a state of another seed, or none at all, begins a new rig', () => {
  const other = createSimulatedRig({ seed: 8, startMs: START_MS }).stateJson();
  for (const stateJson of [other, '{"version":1}', 'no json', null]) {
    expect(createSimulatedRig({ seed: 4, startMs: START_MS, stateJson })).toMatchObject({ restored: false, tMs: START_MS });
  }
});

test('a slower cadence gives fewer messages of the same life', () => {
  const slow = createSimulatedRig({ seed: 4, startMs: START_MS, cadenceS: 60 }),
    quick = createSimulatedRig({ seed: 4, startMs: START_MS });
  const few = messagesOf(slow, START_MS + DAY_MS),
    many = messagesOf(quick, START_MS + DAY_MS);
  expect(few.length).toBeLessThan(0.35 * many.length);
  expect(slow.stateJson()).toBe(quick.stateJson());
  expect(() => createSimulatedRig({ seed: 4, startMs: START_MS, cadenceS: 15 })).toThrow(TypeError);
});

test('over ten days the panels, the loads, the loss and the bank add up', () => {
  const steps = live(4, START_MS, 10, 10_000);
  const wh = (of: (truth: RigTruth) => number) => steps.reduce((sum, truth) => sum + of(truth), 0) / 360;
  const throughWh = wh((t) => Math.abs(t.voltageV * t.currentA));
  expect(wh((t) => t.panelsW) - wh((t) => t.loadsW)).toBeCloseTo(
    wh((t) => t.voltageV * t.currentA),
    3,
  );
  const stored = (truth: RigTruth | undefined) => storedWh(restedBank(truth?.socFrac ?? Number.NaN, 20));
  const lossWh = wh((t) => t.voltageV * t.currentA) - (stored(steps.at(-1)) - stored(steps[0]));
  expect(lossWh / throughWh).toBeGreaterThan(0.003);
  expect(lossWh / throughWh).toBeLessThan(0.05);
});

test('late autumn nights use a good share of the bank, the panels carry most days, and surplus sun is left unused', () => {
  const steps = live(DEMO_SEED, START_MS, 30, 60_000);
  const nights = Array.from({ length: 30 }, (_, day) => Math.min(...steps.slice(day * 1440, (day + 1) * 1440).map((t) => t.socFrac)));
  const days = Array.from({ length: 30 }, (_, day) => Math.max(...steps.slice(day * 1440, (day + 1) * 1440).map((t) => t.socFrac)));
  expect(nights.filter((soc) => soc < 0.65).length).toBeGreaterThan(15);
  expect(nights.filter((soc) => soc > 0.3).length).toBeGreaterThan(24);
  expect(days.filter((soc) => soc > 0.95).length).toBeGreaterThan(15);
  expect(steps.some((t) => t.panelsAvailableW - t.panelsW > 300)).toBe(true);
  expect(steps.filter(({ cabinC }) => cabinC < 10 || cabinC > 36)).toEqual([]);
});

test('the mini-split heats in winter and cools in summer', () => {
  expect(live(4, Date.UTC(2026, 0, 10), 2, HOUR_MS).every((t) => t.mode === 'heat')).toBe(true);
  expect(live(4, Date.UTC(2026, 6, 20), 2, HOUR_MS).every((t) => t.mode === 'cool')).toBe(true);
});
