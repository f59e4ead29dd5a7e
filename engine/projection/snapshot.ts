import type { Forecast } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Learned } from '../learned.ts';
import type { SunEvents } from '../sun/sun.ts';
import type { Place, RigModel } from '../types.ts';

/** All that a projection starts from; a plain value that can go to another thread. */
export interface Snapshot {
  readonly tMs: EpochMs;
  readonly rig: Omit<RigModel, 'everyS' | 'acSide'>;
  readonly place: Place | null;
  readonly headingDeg: number;
  readonly sun: SunEvents;
  /** The night under way; null by day. */
  readonly night: {
    readonly startMs: EpochMs;
    readonly sunsetMs: EpochMs | null;
    readonly sunriseMs: EpochMs | null;
    readonly sunriseSocPct: number | null;
  } | null;
  /** Nothing that the shunt says is of now, or believed: what flowed since is assumed. */
  readonly bankSilent: boolean;
  readonly socFrac: number;
  readonly socSd: number;
  /** How far the device's own value lies under `socFrac` where either may be right; else 0. */
  readonly deviceLowerFrac: number;
  readonly cellOhm: number;
  /** What flows beside the shunt's reading, A, as full charges have told: a load wired past it (negative), its offset, or a charger past it. */
  readonly unseenA: number;
  /** Share of the charge that the bank loses as it takes it. */
  readonly lossFrac: number;
  /** Temperature of the bank, deg C; null where it is not measured or too old. */
  readonly bankC: number | null;
  /** Whether the bank's own board lets it be charged; null where it does not say. */
  readonly chargeAllowed: boolean | null;
  readonly outsideC: number | null;
  readonly outsideLagC: number | null;
  readonly sunLag: number;
  readonly cabinC: number | null;
  readonly waterGm3: number | null;
  readonly setpointC: number | null;
  readonly modeIndex: number | null;
  readonly minisplitW: number | null;
  /** Mean of the standing load since the last whole ten minutes, W; null while nothing tells it, or what comes in is unexplained. */
  readonly standingW: number | null;
  readonly recentIndex: number | null;
  readonly forecast: Forecast | null;
  readonly learned: Learned | null;
  /** Factor on the spread that fits the lead. */
  readonly spread: number;
  readonly doubts: readonly string[];
}
