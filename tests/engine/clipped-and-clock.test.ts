import { describe, expect, it } from 'vitest';
import { bankAt, initialBank, seeClippedCurrent, seeCurrent, seeVoltage, stepBank } from '../../engine/bank/bank.ts';
import { account } from '../../engine/loads/account.ts';
import { observe } from '../../engine/observe.ts';
import { type EngineState, initialState, setBack } from '../../engine/state.ts';
import { DAY_MS, HOUR_MS, NOON_MS, readingOf, rigOf, timeAt } from '../helpers/engine-rig.ts';
import { worldOf } from '../helpers/engine-world.ts';

const START_MS = Date.UTC(2026, 5, 1);
const rig = rigOf();

function run(see: typeof seeCurrent, minutes: number) {
  let bank = seeCurrent(seeVoltage(initialBank, START_MS, 3.3 * rig.cells), START_MS, -100, rig, 60_000, null);
  bank = stepBank(bank, START_MS, rig);
  for (let s = 10; s <= minutes * 60; s += 10) bank = see(bank, START_MS + s * 1000, -100, rig, 60_000, null);
  return bankAt(bank, START_MS + minutes * 60_000, rig, null);
}

describe('a current at the end of its sensor', () => {
  it('P16: counts as the least that flowed, and the doubt grows by what may have been more', () => {
    const clipped = run(seeClippedCurrent, 20);
    const plain = run(seeCurrent, 20);
    expect(clipped?.socFrac).toBeCloseTo(plain?.socFrac ?? 0, 9);
    const unseenFrac = (0.5 * 100 * (20 / 60)) / rig.capacityAh;
    expect((clipped?.sd ?? 0) - (plain?.sd ?? 0)).toBeGreaterThan(0.8 * unseenFrac);
  });
});

describe('a mini-split that is measured, and silent now', () => {
  it('leaves its watts unaccounted, not among the standing loads', () => {
    const m = { bankW: -600, panelsW: 0, chargersW: 0, minisplitW: null, minisplitIsAc: true, minisplitSilent: true, measuredLoadsW: 0 };
    expect(account(m, { idleW: 20, slope: 1.1 })).toMatchObject({ loadsW: 600, standingW: null, unaccountedW: 580 });
    expect(account({ ...m, minisplitSilent: false }, { idleW: 20, slope: 1.1 }).standingW).toBe(580);
  });
});

describe('a wall clock that is put forward', () => {
  it('is no time in which charge flowed', () => {
    const stepAt = (state: EngineState, tMs: number, monoMs: number) => {
      const readings = [readingOf('bank.voltage', tMs, 3.3 * rig.cells), readingOf('bank.current', tMs, -40)];
      return observe(state, { readings, forecasts: [], results: [], plan: null }, timeAt(tMs, { monoMs }), rig).state;
    };
    let state = initialState(rig, NOON_MS);
    for (let s = 0; s <= 60; s += 10) state = stepAt(state, NOON_MS + s * 1000, s * 1000);
    const before = bankAt(state.bank, NOON_MS + 60_000, rig, null);
    const late = NOON_MS + 70_000 + HOUR_MS;
    const jumped = bankAt(stepAt(state, late, 70_000).bank, late, rig, null);
    const hourFrac = 40 / rig.capacityAh;
    expect((before?.socFrac ?? 0) - (jumped?.socFrac ?? 0)).toBeLessThan(0.01 * hourFrac);
    const lived = bankAt(stepAt(state, late, 70_000 + HOUR_MS).bank, late, rig, null);
    expect((before?.socFrac ?? 0) - (lived?.socFrac ?? 0)).toBeGreaterThan(0.5 * hourFrac);
  });
});

describe('a wall clock that is set back', () => {
  const world = worldOf(rig, initialState(rig, NOON_MS), NOON_MS, 0.9);

  it('keeps the sums of the day and the night under way', () => {
    world.live(NOON_MS + 10 * HOUR_MS);
    const { day, night } = world.state;
    const back = setBack(world.state, world.tMs - HOUR_MS);
    expect(back.day).toEqual(day);
    expect(back.night.tonight?.wh).toEqual(night.tonight?.wh);
    expect(back.night.tonight?.lowMs).toBe(world.tMs - HOUR_MS);
  });

  it('begins them anew where it goes back before they began', () => {
    const back = setBack(world.state, NOON_MS - DAY_MS);
    expect(back).toMatchObject({ day: null, night: { tonight: null, endedMs: 0 } });
  });

  it('does not tell a night that has ended a second time, as a short one', () => {
    world.live(NOON_MS + 20 * HOUR_MS);
    const [night] = world.nights;
    expect(night?.endMs).toBeLessThan(world.tMs);
    world.state = setBack(world.state, NOON_MS + 15 * HOUR_MS);
    world.tMs = NOON_MS + 15 * HOUR_MS;
    world.live(NOON_MS + 21 * HOUR_MS);
    expect(world.nights).toEqual([night]);
  });
});
