import { chemistryOf } from '../../../engine/bank/chemistry.ts';
import { openCircuit } from '../../../engine/bank/curve.ts';
import { ENVELOPE_H, SUN_H } from '../../../engine/cabin/minisplit-model.ts';
import type { Learned, RefitContext } from '../../../engine/learned.ts';
import { firstGuesses } from '../../../engine/loads/first-guess.ts';
import { seedOf } from '../../../engine/numeric/random.ts';
import { lowPass, type Maybe } from '../../../engine/numeric/series.ts';
import { runEnsemble } from '../../../engine/projection/ensemble.ts';
import { courseOf, lastHourW, type Span, wasPullingDown } from '../../../engine/projection/inputs.ts';
import type { Snapshot } from '../../../engine/projection/snapshot.ts';
import { refit } from '../../../engine/refit.ts';
import { BIN_MS, type Bin, type RigModel } from '../../../engine/types.ts';
import type { Season } from './bins.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** The night of the comparison: from nine in the evening to seven in the morning, by the house's clock. */
const EVENING_H = 21;
const NIGHT_STEPS = 60;
const LEARN_DAYS = 21;
const MEMBERS = 500;
const PLACE = { latitudeDeg: 40.43, longitudeDeg: -86.91 };
/** A bank so large that the night's energy can be read from its state of charge at one voltage. */
const BANK_AH = 1e6;

/** One night: what came, and what the engine said at its beginning from what was known then. */
export interface HouseNight {
  readonly startMs: number;
  /** Energy of the night and mean outdoor temperature, as they came. */
  readonly truthWh: number;
  readonly outsideC: number;
  /** Mean outdoor temperature that the engine expected. */
  readonly expectedOutsideC: number;
  /** The engine's members. */
  readonly membersWh: readonly number[];
}

const meanBy = (bins: readonly Bin[], pick: (bin: Bin) => Maybe): { mean: number; share: number } => {
  const values = bins.map(pick).filter((v): v is number => v !== null);
  return { mean: values.reduce((sum, v) => sum + v, 0) / values.length, share: values.length / NIGHT_STEPS };
};

/** Runs the engine's own refit and ensemble through a season, night by night, each from the history before it only. */
export function houseNights(season: Season): HouseNight[] {
  const { bins } = season;
  const startMs = bins[0]?.tMs ?? 0;
  const rig = rigOf(season);
  const context: RefitContext = { rig, place: PLACE, headingDeg: 0, forecasts: [], horizonSinceMs: 0, weatherSinceMs: 0 };
  const nights: HouseNight[] = [];
  for (let tMs = Math.floor(startMs / DAY_MS) * DAY_MS + (EVENING_H + season.behindUtcH) * HOUR_MS; ; tMs += DAY_MS) {
    const at = Math.round((tMs - startMs) / BIN_MS);
    if (at < 0) continue;
    if (at + NIGHT_STEPS > bins.length) return nights;
    const night = bins.slice(at, at + NIGHT_STEPS);
    const power = meanBy(night, (b) => b.minisplitW);
    if (power.share < 0.9) continue;
    const past = bins.slice(Math.max(0, at - (LEARN_DAYS * DAY_MS) / BIN_MS), at);
    const learned = refit(past, tMs, context);
    const said = projectNight(snapshotOf(rig, past, tMs, learned), past);
    nights.push({ startMs: tMs, truthWh: (power.mean * NIGHT_STEPS * BIN_MS) / HOUR_MS, outsideC: meanBy(night, (b) => b.outsideC).mean, ...said });
  }
}

const rigOf = ({ minisplit, name }: Season): RigModel => ({
  rigId: name,
  chemistry: 'LiFePO4',
  cells: 4,
  capacityAh: BANK_AH,
  floorFrac: 0,
  inverter: null,
  panels: [{ ratedW: 1000, tiltDeg: 0, azimuthDeg: 180 }],
  minisplit: { ...minisplit, setpointsC: [18, 28] },
  place: PLACE,
  everyS: new Map(),
  acSide: new Set(),
  chargers: [],
  loads: [],
  timeZone: 'UTC',
});

/** What a projection starts from at nine in the evening. */
function snapshotOf(rig: RigModel, past: readonly Bin[], tMs: number, learned: Learned): Snapshot {
  const stepH = BIN_MS / HOUR_MS;
  let outsideLagC: Maybe = null;
  let sunLag = 0;
  for (const bin of past) {
    if (bin.outsideC !== null) outsideLagC = lowPass(outsideLagC ?? bin.outsideC, bin.outsideC, stepH, ENVELOPE_H);
    sunLag = lowPass(sunLag, (bin.panelsW ?? 0) / 1000, stepH, SUN_H);
  }
  const last = past.at(-1);
  return {
    tMs,
    rig,
    place: PLACE,
    headingDeg: 0,
    sun: { kind: 'unknown-place' },
    night: null,
    socFrac: 0.5,
    bankSilent: false,
    lossFrac: 0,
    socSd: 0,
    deviceLowerFrac: 0,
    bankC: null,
    chargeAllowed: null,
    cellOhm: 0,
    unseenA: 0,
    outsideC: last?.outsideC ?? null,
    outsideLagC,
    sunLag,
    cabinC: last?.cabinC ?? null,
    waterGm3: null,
    setpointC: last?.setpointC ?? rig.minisplit?.setpointC ?? null,
    modeIndex: rig.minisplit?.modeIndex ?? null,
    minisplitW: last?.minisplitW ?? null,
    standingW: last?.standingW ?? null,
    recentIndex: null,
    forecast: null,
    learned,
    spread: 1,
    doubts: [],
  };
}

function projectNight(snapshot: Snapshot, past: readonly Bin[]): Pick<HouseNight, 'membersWh' | 'expectedOutsideC'> {
  const { tMs, setpointC, rig, learned } = snapshot;
  const endMs = tMs + NIGHT_STEPS * BIN_MS;
  const span: Span = { startMs: tMs, stepMs: BIN_MS, steps: NIGHT_STEPS, nightStartMs: tMs, sunsetMs: null, sunriseMs: endMs, endMs };
  const course = courseOf(snapshot, { loads: [] }, span);
  const recent = past.slice(-12);
  const e = runEnsemble({
    snapshot,
    span,
    // Nothing charges this bank.
    course: { ...course, clearW: new Float64Array(NIGHT_STEPS) },
    standing: null,
    panels: null,
    lastHourW: lastHourW(recent),
    pulledDown: setpointC !== null && wasPullingDown(recent, setpointC, learned?.minisplit?.heats ?? false),
    guess: {
      standing: { medianW: 0, logSd: 0 },
      minisplit: firstGuesses({ bins: recent, standingW: null, minisplitW: snapshot.minisplitW, hasMinisplit: true }).minisplit,
    },
    setpointC,
    settings: null,
    unitDays: null,
    chargersW: 0,
    members: MEMBERS,
    seed: seedOf(tMs, rig.rigId),
  });
  const whOfAll = rig.capacityAh * rig.cells * openCircuit(chemistryOf(rig), 0.5).voltageV;
  const membersWh = Array.from(e.soc.subarray(NIGHT_STEPS * MEMBERS), (soc) => (snapshot.socFrac - soc) * whOfAll);
  return { membersWh, expectedOutsideC: course.outsideC.reduce((sum, c) => sum + c, 0) / NIGHT_STEPS };
}
