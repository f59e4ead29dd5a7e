import type { NightRow } from '../../shared/schema/projection.ts';
import { NOON_MS } from './notify-plan.ts';

/** A night of 2.1 kWh with everything measured, but for what is given. */
export const nightRow = (part: Partial<NightRow> = {}): NightRow => ({
  nightId: '2026-11-26',
  startMs: NOON_MS - 20 * 3_600_000,
  sunsetMs: null,
  sunriseMs: null,
  endMs: NOON_MS,
  startSocPct: 82,
  sunriseSocPct: 45,
  lowPointPct: 41.4,
  lowPointMs: Date.UTC(2026, 10, 27, 8, 35),
  takeoverMs: null,
  minisplitWh: 1300,
  standingWh: 700,
  inverterWh: 160,
  panelsWh: 100,
  bankOutWh: 2100,
  unexplainedChargeWh: 0,
  outsideMinC: 9,
  outsideMeanC: 12,
  cabinMeanC: 21,
  setpointC: 21,
  projectedAtSunset: null,
  learnedFrom: true,
  coverage: 1,
  ...part,
});
