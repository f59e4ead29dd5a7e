import { chemistryOf } from '../../engine/bank/chemistry.ts';
import { typicalCellOhm } from '../../engine/bank/curve.ts';
import { refit } from '../../engine/refit.ts';
import { sunEvents } from '../../engine/sun/sun.ts';
import type { Bin, Learned, RigModel, Snapshot } from '../../engine/types.ts';
import type { EpochMs } from '../../shared/units.ts';
import { contextOf, outsideAt, type PastOptions, pastOf } from './engine-bins.ts';
import { HOUR_MS, rigOf } from './engine-rig.ts';

const sun = sunEvents(rigOf().place, Date.UTC(2025, 6, 10, 12));
if (sun.kind !== 'events') throw new Error(`no sunset on 10 July but ${sun.kind}`);
/** The sunset of 10 July at the place of `rigOf`, on the ten-minute grid. */
export const SUNSET_MS: EpochMs = Math.ceil(sun.nextSunsetMs / 600_000) * 600_000;

/** What a rig has learned from some made-up days before sunset, and the bins of its last two hours. */
export function lived(rig: RigModel, options: PastOptions): { learned: Learned; bins: Bin[] } {
  const past = pastOf(rig, SUNSET_MS, options);
  return { learned: refit(past, SUNSET_MS, contextOf(rig)), bins: past.slice(-12) };
}

/** The made-up rig at sunset, its bank at 80 %. */
export function snapshotOf(rig: RigModel, learned: Learned | null, over: Partial<Snapshot> = {}): Snapshot {
  const { everyS: _everyS, acSide: _acSide, ...model } = rig;
  const events = sunEvents(rig.place, SUNSET_MS);
  return {
    tMs: SUNSET_MS,
    rig: model,
    place: rig.place,
    headingDeg: 0,
    sun: events,
    night: events.kind === 'events' ? { startMs: SUNSET_MS - HOUR_MS, sunsetMs: SUNSET_MS, sunriseMs: events.nextSunriseMs, sunriseSocPct: null } : null,
    bankSilent: false,
    socFrac: 0.8,
    socSd: 0.01,
    cellOhm: typicalCellOhm(chemistryOf(rig), rig.capacityAh),
    unseenA: 0,
    lossFrac: 0,
    deviceLowerFrac: 0,
    bankC: null,
    chargeAllowed: null,
    outsideC: outsideAt(SUNSET_MS),
    outsideLagC: outsideAt(SUNSET_MS - HOUR_MS),
    sunLag: 0.1,
    cabinC: 24,
    waterGm3: 9,
    setpointC: 24,
    modeIndex: 1,
    minisplitW: null,
    standingW: null,
    recentIndex: 0.8,
    forecast: null,
    learned,
    spread: 1,
    doubts: [],
    ...over,
  };
}
