import { describe, expect, it } from 'vitest';
import { advise } from '../../../engine/advice/advise.ts';
import { runJob } from '../../../engine/jobs.ts';
import { refit } from '../../../engine/refit.ts';
import { BIN_MS, type Plan, type Snapshot } from '../../../engine/types.ts';
import { Advice, type TonightAdvice } from '../../../shared/schema/advice.ts';
import { contextOf, pastOf } from '../../helpers/engine-bins.ts';
import { HOUR_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 300 });
const past = lived(rig, { days: 10, warmerC: (day) => [0, 2, -2, 1, -1][day % 5] ?? 0 });
const oven = { name: 'oven', startMs: SUNSET_MS + HOUR_MS, endMs: SUNSET_MS + 1.5 * HOUR_MS, powerW: 1200 };
const noPlan: Plan = { loads: [] };

function tonight(snapshot: Snapshot, plan = noPlan, confidence = 0.8, bins = past.bins): TonightAdvice {
  const advice = Advice.parse(advise({ snapshot, plan, seed: 7, bins }, { kind: 'tonight', confidence }));
  if (advice.kind !== 'tonight') throw new Error(`asked for tonight, got ${advice.kind}`);
  return advice;
}
const at = (socFrac: number, over: Partial<Snapshot> = {}): Snapshot => snapshotOf(rig, past.learned, { socFrac, ...over });

describe('the setpoint for tonight', () => {
  it('is the coolest that holds the floor as surely as wanted', () => {
    const { setpoint, ladder } = tonight(at(0.7));
    const best = setpoint?.setpointC ?? Number.NaN;
    expect(ladder.map((rung) => rung.setpointC)).toEqual([20, 21, 22, 23, 24, 25, 26, 27, 28]);
    expect(best).toBeGreaterThan(20);
    for (const rung of ladder) expect(rung.holdsProbability >= 0.8).toBe(rung.setpointC >= best);
    expect(setpoint?.rung).toEqual(ladder.find((rung) => rung.setpointC === best));
  });

  it('is no cooler the surer the owner wants to be', () => {
    const wanted = [0.5, 0.8, 0.95].map((confidence) => tonight(at(0.7), noPlan, confidence).setpoint?.setpointC ?? 99);
    expect(wanted[0]).toBeLessThanOrEqual(wanted[1] as number);
    expect(wanted[1]).toBeLessThanOrEqual(wanted[2] as number);
    expect(wanted[0]).toBeLessThan(wanted[2] as number);
  });

  it('is none where even the most sparing does not hold, and says so', () => {
    expect(tonight(at(0.4)).setpoint).toEqual({ setpointC: null, rung: null, nowHolds: false });
    expect(tonight(at(0.4)).schedule).toBeNull();
  });

  it('when heating is the warmest that holds', () => {
    const cold = rigOf({ capacityAh: 300, minisplit: { minW: 120, maxW: 900, modeIndex: 2, setpointC: 20, setpointsC: [15, 24] } });
    const bins = pastOf(cold, SUNSET_MS, { days: 10 }).map((bin) => {
      const outsideC = (bin.outsideC ?? 0) - 25;
      return { ...bin, outsideC, setpointC: 20, cabinC: 20, modeIndex: 2, minisplitW: Math.max(0, 22 * (20 - outsideC) - 80) };
    });
    const learned = refit(bins, SUNSET_MS, contextOf(cold));
    const outsideC = bins.at(-1)?.outsideC ?? null;
    const snapshot = snapshotOf(cold, learned, { socFrac: 0.9, setpointC: 20, cabinC: 20, modeIndex: 2, outsideC, outsideLagC: outsideC });
    const { setpoint, ladder, schedule } = tonight(snapshot, noPlan, 0.8, bins.slice(-12));
    expect(learned.minisplit?.heats).toBe(true);
    const best = setpoint?.setpointC ?? Number.NaN;
    for (const rung of ladder) expect(rung.holdsProbability >= 0.8).toBe(rung.setpointC <= best);
    expect(best).toBeLessThan(24);
    if (schedule) expect(schedule.thenC).toBeLessThan(schedule.firstC);
    expect(schedule === null).toBe(setpoint?.nowHolds);
  });
});

describe('a schedule of two setpoints', () => {
  it('keeps the setpoint in force as long as it can be had, and lies between the two', () => {
    const { schedule, base, ladder } = tonight(at(0.62));
    if (!schedule) throw new Error('no schedule');
    expect(schedule.firstC).toBe(24);
    expect(schedule.thenC).toBeGreaterThan(24);
    expect(schedule.effect.holdsProbability).toBeGreaterThanOrEqual(0.8);
    expect(schedule.effect.gainPct).toBeGreaterThan(0);
    expect(schedule.effect.lowPoint.p50Pct).toBeGreaterThan(base.lowPoint.p50Pct);
    const throughout = ladder.find((rung) => rung.setpointC === schedule.thenC);
    expect(schedule.effect.lowPoint.p50Pct).toBeLessThanOrEqual(throughout?.lowPoint.p50Pct ?? 0);
    expect(schedule.changeMs).toBeGreaterThanOrEqual(SUNSET_MS + HOUR_MS);
    expect(schedule.changeMs).toBeLessThan(base.lowPoint.tMs);
  });

  it('is none where the setpoint in force holds', () => {
    const { schedule, setpoint } = tonight(at(0.95));
    expect(setpoint?.nowHolds).toBe(true);
    expect(schedule).toBeNull();
  });
});

describe('what would help', () => {
  it('comes with its effect, the greatest first', () => {
    const { helps, ladder, base } = tonight(at(0.7), { loads: [oven] });
    expect(helps.map((help) => help.kind).sort()).toEqual(['off-hours', 'setpoint', 'skip-load']);
    const gains = helps.map((help) => help.effect.gainPct);
    expect(gains).toEqual([...gains].sort((a, b) => b - a));
    const setpoint = helps.find((help) => help.kind === 'setpoint');
    expect(setpoint?.setpointC).toBe(26);
    expect(setpoint?.effect.lowPoint).toEqual(ladder.find((rung) => rung.setpointC === 26)?.lowPoint);
    const skip = helps.find((help) => help.kind === 'skip-load');
    // 600 Wh of some 7.9 kWh.
    expect(skip?.load).toBe('oven');
    expect(Math.abs((skip?.effect.gainPct ?? 0) - 7.6)).toBeLessThan(0.8);
    expect(skip?.effect.holdsProbability).toBeGreaterThan(base.holdsProbability);
  });

  it('off from four to six: at the hours of the zone, with how warm it gets', () => {
    const there = (timeZone: string) => tonight({ ...at(0.7), rig: { ...at(0.7).rig, timeZone } }).helps.find((help) => help.kind === 'off-hours');
    const off = there('UTC');
    expect(new Date(off?.fromMs ?? 0).toISOString().slice(11, 16)).toBe('04:00');
    expect((off?.toMs ?? 0) - (off?.fromMs ?? 0)).toBe(2 * HOUR_MS);
    expect(off?.cabinPeakC).toBeGreaterThan(24.2);
    // The heat that came in is taken out after: it saves, but less than those two hours draw.
    expect(off?.effect.gainPct).toBeGreaterThan(0.1);
    expect(off?.effect.gainPct).toBeLessThan(4);
    expect(new Date(there('Asia/Kolkata')?.fromMs ?? 0).toISOString().slice(11, 16)).toBe('22:30');
  });

  it('is told against the night that the screens head with: of somebody who sets it warmer at eleven too', () => {
    const { traces } = past.learned;
    const setpointC = Array.from({ length: traces.standingW.length }, (_, i) => {
      const h = ((traces.startMs + i * BIN_MS) % (24 * HOUR_MS)) / HOUR_MS;
      return h >= 23 || h < 8 ? 27 : 24;
    });
    const { base, helps, ladder } = tonight(at(0.7, { learned: { ...past.learned, traces: { ...traces, setpointC } } }), { loads: [oven] });
    // Left as it is, the night would end lower than with that habit.
    expect(ladder.find((rung) => rung.setpointC === 24)?.lowPoint.p50Pct).toBeLessThan(base.lowPoint.p50Pct - 2);
    expect(helps.map((help) => help.kind).sort()).toEqual(['off-hours', 'setpoint', 'skip-load']);
    for (const { effect } of helps) expect(effect.lowPoint.p50Pct - effect.gainPct).toBeCloseTo(base.lowPoint.p50Pct, 1);
  });

  it('a setpoint at the end of its range is not moved on', () => {
    const kinds = tonight(at(0.7, { setpointC: 28 })).helps.map((help) => help.kind);
    expect(kinds).not.toContain('setpoint');
  });
});

describe('advice where little is known', () => {
  it('without a mini-split, or with it switched off, speaks of the rest', () => {
    const bare = rigOf({ minisplit: null });
    const bareLived = lived(bare, { days: 6 });
    for (const snapshot of [snapshotOf(bare, bareLived.learned), at(0.7, { modeIndex: 0 })]) {
      const advice = tonight(snapshot, { loads: [oven] });
      expect(advice.setpoint).toBeNull();
      expect(advice.schedule).toBeNull();
      expect(advice.surplus).toBeNull();
      expect(advice.helps.map((help) => help.kind)).toEqual(['skip-load']);
      expect(advice.twoNights).not.toBeNull();
    }
  });

  it('with nothing learned, or the place not known, still answers', () => {
    const first = tonight(snapshotOf(rig, null, { minisplitW: 300 }), { loads: [oven] }, 0.8, []);
    expect(first.breakdown.energyWh.minisplit).toBeGreaterThan(1000);
    expect(first.helps.map((help) => help.kind)).toEqual(['skip-load']);
    const nowhere = rigOf({ place: null });
    const lost = tonight(snapshotOf(nowhere, past.learned, { place: null }));
    expect(lost.twoNights).toBeNull();
    expect(lost.surplus).toBeNull();
    expect(lost.darkPanels.hoursP50).toBeGreaterThan(0);
  });
});

describe('the job', () => {
  it('gives the same advice for the same seed, through any wire', () => {
    const job = {
      kind: 'advise',
      id: 'advise-1',
      atMs: SUNSET_MS,
      dueMs: SUNSET_MS,
      fromMs: SUNSET_MS - 2 * HOUR_MS,
      snapshot: at(0.7),
      plan: noPlan,
      seed: 7,
      question: { kind: 'tonight', confidence: 0.8 },
    } as const;
    const result = runJob(job, past.bins);
    expect(result).toEqual({ kind: 'advise', id: 'advise-1', advice: tonight(at(0.7)) });
    expect(runJob(JSON.parse(JSON.stringify(job)), JSON.parse(JSON.stringify(past.bins)))).toEqual(result);
  });
});
