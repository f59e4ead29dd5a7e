import { describe, expect, it } from 'vitest';
import { type BankState, bankAt, cellOhm, initialBank, seeCurrent, seeDevice, seeVoltage, stepBank } from '../../../engine/bank/bank.ts';
import { chemistryOf } from '../../../engine/bank/chemistry.ts';
import { typicalCellOhm } from '../../../engine/bank/curve.ts';
import { benchBank, chargeFully, runBank, terminalV } from '../../helpers/engine-bank.ts';
import { HOUR_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const rig = rigOf();
const beliefOf = (bank: BankState) => bankAt(bank, bank.current?.tMs ?? NOON_MS, rig, null);
const bankSoc = (bank: BankState): number => beliefOf(bank)?.socFrac ?? Number.NaN;
const bankSd = (bank: BankState): number => beliefOf(bank)?.sd ?? Number.NaN;
const anchored = () => {
  const bench = benchBank(NOON_MS, 0.8);
  chargeFully(bench, rig);
  return bench;
};

describe('state of charge by counting', () => {
  it('is not known before voltage and current have been read', () => {
    expect(beliefOf(initialBank)).toBeNull();
    expect(beliefOf(stepBank(seeVoltage(initialBank, NOON_MS, 26.4), NOON_MS, rig))).toBeNull();
    expect(beliefOf(stepBank(seeCurrent(initialBank, NOON_MS, -10, rig, 60_000, null), NOON_MS, rig))).toBeNull();
  });

  it('begins wide in the flat middle of the voltage curve and narrow at its ends', () => {
    const start = (socFrac: number) => {
      const bench = benchBank(NOON_MS, socFrac);
      runBank(bench, rig, 1, 0);
      return bankSd(bench.state);
    };
    expect(start(0.5)).toBeGreaterThan(0.15);
    expect(start(0.06)).toBeLessThan(0.04);
  });

  it('is full after a full charge, within half a point', () => {
    const bench = anchored();
    expect(bankSoc(bench.state)).toBeGreaterThan(0.99);
    expect(bankSd(bench.state)).toBeLessThan(0.007);
    expect(bench.state.anchoredMs).not.toBeNull();
  });

  it('follows the charge for a day after a full charge within one point', () => {
    const bench = anchored();
    for (let hour = 0; hour < 24; hour++) runBank(bench, rig, 60, hour % 4 === 3 ? 6 : -8);
    expect(Math.abs(bankSoc(bench.state) - bench.trueFrac)).toBeLessThan(0.01);
  });

  it('P38: counts irregular readings by their real intervals', () => {
    const bench = benchBank(NOON_MS, 0.1);
    runBank(bench, rig, 5, -10);
    let { state: bank, tMs } = bench;
    const before = bankSoc(bank);
    let chargeAs = 0;
    for (const gapS of [1, 1, 12, 1, 45, 3, 59, 10]) {
      tMs += gapS * 1000;
      bank = seeCurrent(bank, tMs, -10, rig, 60_000, null);
      chargeAs -= 10 * gapS;
    }
    expect((bankSoc(bank) - before) * rig.capacityAh * 3600).toBeCloseTo(chargeAs, 0);
  });

  it('does not count a reading twice, nor one that comes late', () => {
    const { state: bank, tMs } = anchored();
    const once = seeCurrent(bank, tMs + 10_000, -50, rig, 60_000, null);
    expect(seeCurrent(once, tMs + 10_000, -50, rig, 60_000, null)).toBe(once);
    expect(seeCurrent(once, tMs + 5000, -80, rig, 60_000, null)).toBe(once);
  });
});

describe('S01 days without a full charge', () => {
  it('the doubt grows, and covers what an offset of 0.1 A makes of it', () => {
    const bench = anchored();
    runBank(bench, rig, 5 * 60, -8, { errorA: 0.1 });
    const doubts: number[] = [];
    for (let day = 0; day < 9; day++) {
      runBank(bench, rig, 12 * 60, -6.5, { errorA: 0.1 });
      runBank(bench, rig, 12 * 60, 6.4, { errorA: 0.1 });
      doubts.push(bankSd(bench.state));
    }
    const error = Math.abs(bankSoc(bench.state) - bench.trueFrac);
    expect(error).toBeGreaterThan(0.01);
    expect(error).toBeLessThan(2 * bankSd(bench.state));
    expect(doubts[3]).toBeGreaterThan((doubts[0] as number) + 0.002);
    expect(Math.min(...doubts)).toBe(doubts[0]);
    expect(bench.state.anchoredMs).toBeLessThan(NOON_MS + 12 * HOUR_MS);
  });

  it('a bank whose plateau lies 10 mV beside the table is not counted away from the truth', () => {
    for (const offV of [-0.01, 0.01]) {
      const bench = anchored();
      runBank(bench, rig, 5 * 60, -8);
      for (let day = 0; day < 6; day++) {
        for (const currentA of [-7.5, 7.5]) {
          for (let i = 0; i < 144; i++) runBank(bench, rig, 5, currentA, { voltageV: terminalV(rig, bench.trueFrac, currentA) + rig.cells * offV });
        }
      }
      const error = Math.abs(bankSoc(bench.state) - bench.trueFrac);
      expect(error).toBeLessThan(0.06);
      expect(error).toBeLessThan(2.5 * bankSd(bench.state));
    }
  });

  it('S08: each full charge tells what is missing, and the counted current is corrected for it', () => {
    const bench = anchored();
    for (let day = 0; day < 5; day++) {
      runBank(bench, rig, 20 * 60, -4, { errorA: 0.4 });
      chargeFully(bench, rig);
    }
    expect(bench.state.closings.length).toBeGreaterThanOrEqual(4);
    expect(bench.state.belief?.offsetA).toBeLessThan(-0.1);
  });
});

describe('what is not a full charge', () => {
  const middle = () => {
    const bench = benchBank(NOON_MS, 0.06);
    // From the steep foot of the curve the count is sure of itself.
    runBank(bench, rig, 30, 0);
    while (bench.trueFrac < 0.6) runBank(bench, rig, 10, 40);
    runBank(bench, rig, 30, -1);
    return bench;
  };

  it('S02: a small current from thin cloud at a voltage that weak sun lifts', () => {
    const bench = middle();
    runBank(bench, rig, 30, 2, { voltageV: rig.cells * 3.4 });
    expect(bench.state.anchoredMs).toBeNull();
    expect(Math.abs(bankSoc(bench.state) - bench.trueFrac)).toBeLessThan(0.1);
  });

  it('S02: the voltage of a full bank while the bank still takes a lot', () => {
    const bench = middle();
    runBank(bench, rig, 60, 30, { voltageV: rig.cells * (3.44 + 30 * typicalCellOhm(chemistryOf(rig), rig.capacityAh)) });
    expect(bench.state.anchoredMs).toBeNull();
  });

  it('S04: the first half minute of charging makes no jump', () => {
    const bench = middle();
    const before = bankSoc(bench.state);
    runBank(bench, rig, 0.5, 60, { voltageV: rig.cells * 3.6 });
    expect(Math.abs(bankSoc(bench.state) - before)).toBeLessThan(0.015);
    expect(bench.state.anchoredMs).toBeNull();
  });

  it('a load step at the end of charging, which lowers the current for a moment', () => {
    const bench = benchBank(NOON_MS, 0.9);
    runBank(bench, rig, 5, 40);
    for (let i = 0; i < 12; i++) {
      runBank(bench, rig, 2, 40, { voltageV: rig.cells * 3.5 });
      runBank(bench, rig, 3, 2, { voltageV: rig.cells * 3.38 });
    }
    expect(bench.state.anchoredMs).toBeNull();
  });

  it('a charger that stops on its timer and lets the voltage fall', () => {
    const bench = middle();
    runBank(bench, rig, 20, 40, { voltageV: rig.cells * 3.47 });
    for (let i = 0; i < 60; i++) runBank(bench, rig, 0.5, 0, { voltageV: rig.cells * (3.34 + 0.12 * Math.exp(-i / 12)) });
    expect(bench.state.anchoredMs).toBeNull();
  });

  it('a rested voltage of a full bank does anchor once it has held for long, even where counting says otherwise', () => {
    const bench = middle();
    runBank(bench, rig, 40, 1, { voltageV: rig.cells * 3.47 });
    expect(bench.state.anchoredMs).toBeNull();
    runBank(bench, rig, 40, 1, { voltageV: rig.cells * 3.47 });
    expect(bench.state.anchoredMs).not.toBeNull();
    expect(bankSoc(bench.state)).toBeGreaterThan(0.98);
  });
});

describe("the device's own state of charge", () => {
  it('is taken for a start where nothing better is known', () => {
    const bench = benchBank(NOON_MS, 0.5);
    runBank(bench, rig, 5, -1);
    bench.state = seeDevice(bench.state, bench.tMs, 0.62);
    expect(Math.abs(bankSoc(bench.state) - 0.62)).toBeLessThan(0.03);
    expect(bankSd(bench.state)).toBeGreaterThan(0.03);
  });

  it('S04: that jumps is not followed: the count moves little, and slowly', () => {
    const bench = anchored();
    runBank(bench, rig, 12 * 60, -8, { see: (state, tMs) => seeDevice(state, tMs, bench.trueFrac) });
    const before = bankSoc(bench.state);
    runBank(bench, rig, 5, -8, { see: (state, tMs) => seeDevice(state, tMs, 1) });
    expect(bankSoc(bench.state) - before).toBeLessThan(0.021);
    runBank(bench, rig, 120, -8, { see: (state, tMs) => seeDevice(state, tMs, 1) });
    expect(Math.abs(bankSoc(bench.state) - bench.trueFrac)).toBeLessThan(0.03);
  });

  it('S05: that stays off by 15 points is not averaged with the count', () => {
    const bench = anchored();
    runBank(bench, rig, 10 * 60, -8, { see: (state, tMs) => seeDevice(state, tMs, Math.min(1, bench.trueFrac + 0.15)) });
    expect(Math.abs(bankSoc(bench.state) - bench.trueFrac)).toBeLessThan(0.03);
    expect(bench.state.deviceFrac).toBeCloseTo(bench.trueFrac + 0.15, 2);
  });

  it('is not heard again and again after the device fell silent', () => {
    const silent = anchored();
    const without = anchored();
    for (const [bench, heard] of [
      [silent, true],
      [without, false],
    ] as const) {
      runBank(bench, rig, 30, -8);
      if (heard) bench.state = seeDevice(bench.state, bench.tMs, bench.trueFrac);
      runBank(bench, rig, 14 * 60, -8);
    }
    expect(Math.abs(bankSoc(silent.state) - bankSoc(without.state))).toBeLessThan(0.003);
  });
});

describe('gaps', () => {
  it('S13: a pause counts what the habits say and widens the doubt', () => {
    const bench = anchored();
    runBank(bench, rig, 120, -10);
    const before = { socFrac: bankSoc(bench.state), sd: bankSd(bench.state) };
    const kept = JSON.parse(JSON.stringify(bench.state)) as typeof bench.state;
    expect(kept).toEqual(bench.state);
    const resumed = seeCurrent(kept, bench.tMs + 2 * HOUR_MS, -11, rig, 60_000, -20);
    expect(bankSoc(resumed) - before.socFrac).toBeCloseTo(-40 / rig.capacityAh, 2);
    expect(bankSd(resumed)).toBeGreaterThan(before.sd + 0.02);
    expect(resumed.blindMs).toBe(2 * HOUR_MS);
    expect(resumed.fullRun).toBeNull();
  });

  it('without habits the last hour goes on, and a longer pause leaves more doubt', () => {
    const bench = anchored();
    runBank(bench, rig, 240, -10);
    const afterPause = (hours: number) => seeCurrent(bench.state, bench.tMs + hours * HOUR_MS, -10, rig, 60_000, null);
    expect(bankSoc(bench.state) - bankSoc(afterPause(1))).toBeCloseTo(10 / rig.capacityAh, 2);
    expect(bankSd(afterPause(4))).toBeGreaterThan(bankSd(afterPause(1)) + 0.02);
  });

  it('a shunt that is silent now counts as blind up to now already', () => {
    const bench = anchored();
    runBank(bench, rig, 120, -10);
    const now = bankAt(bench.state, bench.tMs, rig, -20);
    const later = bankAt(bench.state, bench.tMs + HOUR_MS, rig, -20);
    expect((later?.socFrac ?? 0) - (now?.socFrac ?? 0)).toBeCloseTo(-20 / rig.capacityAh, 2);
    expect(later?.sd).toBeGreaterThan((now?.sd ?? 1) + 0.02);
  });

  it('a voltage that is silent anchors nothing', () => {
    const bench = anchored();
    const bank = seeCurrent({ ...bench.state, fullRun: { sinceMs: 0, lowV: 3.45, highV: 3.46 } }, bench.tMs + 200_000, 0, rig, 300_000, null);
    expect(stepBank(bank, bench.tMs + 200_000, rig)).toMatchObject({ fullRun: null, anchoredMs: bench.state.anchoredMs });
  });
});

describe('S16 past the ends', () => {
  it('the count goes past full inside, so that the error is not lost, while what is shown ends at full', () => {
    const bench = anchored();
    const flow = (currentA: number, hours: number): BankState => {
      for (let i = 0; i < hours * 360; i++) {
        bench.tMs += 10_000;
        bench.state = seeCurrent(bench.state, bench.tMs, currentA, rig, 60_000, null);
      }
      return bench.state;
    };
    expect(flow(8, 1).belief?.socFrac).toBeGreaterThan(1.02);
    expect(bankSoc(bench.state)).toBe(1);
    expect(flow(-8, 30).belief?.socFrac).toBeLessThan(0);
    expect(bankSoc(bench.state)).toBe(0);
  });
});

describe('the resistance of a cell', () => {
  it('is learned from load steps, and typical before', () => {
    const ohm = 3 * typicalCellOhm(chemistryOf(rig), rig.capacityAh);
    expect(cellOhm(initialBank, rig)).toBeCloseTo(typicalCellOhm(chemistryOf(rig), rig.capacityAh), 9);
    const bench = benchBank(NOON_MS, 0.6);
    for (let i = 0; i < 120; i++) {
      for (const currentA of [-5, -45]) runBank(bench, rig, 0.5, currentA, { voltageV: terminalV(rig, 0.6, 0) + rig.cells * currentA * ohm });
    }
    expect(cellOhm(bench.state, rig) / ohm).toBeGreaterThan(0.8);
    expect(cellOhm(bench.state, rig) / ohm).toBeLessThan(1.05);
  });
});
