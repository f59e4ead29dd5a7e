import type { Projection } from '../shared/schema/projection.ts';
import { leftAlone } from './advice/case.ts';
import { helpsOf } from './advice/helps.ts';
import { ladderOf } from './advice/ladder.ts';
import { chemistryOf } from './bank/chemistry.ts';
import { type Ensemble, runEnsemble } from './projection/ensemble.ts';
import { type Span, spanOf } from './projection/inputs.ts';
import { type Outcome, outcomeOf, quantiles } from './projection/outcome.ts';
import { setupOf } from './projection/setup.ts';
import type { Snapshot } from './projection/snapshot.ts';
import { BIN_MS, type Bin, type Plan } from './types.ts';

const round = (value: number, digits: number): number => Math.round(value * 10 ** digits) / 10 ** digits;

/** So many helps are told. */
const MOST_HELPS = 6;

/** How a projection is worked out. Neither changes what it says by more than the draw does. */
export interface ProjectOptions {
  /** Whether what only the screens show is worked out too: the curve and the setpoint ladder. */
  readonly forScreens: boolean;
  /** Length of a step; left out: ten minutes, as the bins. */
  readonly stepMs?: number;
  /** Is handed what the ensemble says, for whoever measures more of it than a projection tells. */
  readonly onOutcome?: (outcome: Outcome, snapshot: Snapshot) => void;
}

/**
 * Projects the state of charge to the end of this night: an ensemble whose members differ in all that is not known.
 * Deterministic for a seed. `bins` are the last two hours.
 */
export function project(s: Snapshot, plan: Plan, seed: number, members: number, bins: readonly Bin[], options: ProjectOptions): Projection {
  const span = spanOf(s, options.stepMs ?? BIN_MS);
  const setup = setupOf(s, plan, span, seed, members, bins);
  const ensemble = runEnsemble(setup);
  const outcome = outcomeOf(ensemble, s, span);
  const usual = { setup, ensemble, outcome };
  options.onOutcome?.(outcome, s);
  const { limits } = ensemble;
  const curve = options.forScreens ? curveOf(ensemble, s, span) : [];
  const nights = s.learned?.nights ?? 0;
  const energy = (series: Float64Array): number => round(series.reduce((sum, w) => sum + w, 0) * (span.stepMs / 3_600_000), 0);
  const ladder = options.forScreens ? ladderOf(setup) : [];
  const tight = 1 - (s.rig.confidence ?? CONFIDENCE);
  const isDoubtful = outcome.belowFloorProbability > tight;
  const helps = options.forScreens && isDoubtful ? { helps: helpsOf(usual, leftAlone(usual), plan).slice(0, MOST_HELPS) } : {};
  const capacityWh = s.rig.capacityAh * s.rig.cells * chemistryOf(s.rig).meanV;
  return {
    tMs: s.tMs,
    socPct: round(100 * s.socFrac, 3),
    socSigmaPct: round(100 * s.socSd, 3),
    sunrise: outcome.sunrise,
    lowPoint: outcome.lowPoint,
    takeover: outcome.takeover,
    takeoverProbability: round(outcome.takeoverProbability, 3),
    floorPct: round(100 * limits.floorFrac, 2),
    belowFloorProbability: round(outcome.belowFloorProbability, 4),
    belowFloorMs: outcome.belowFloorMs,
    marginWh: round(((outcome.lowPoint.p50Pct - 100 * limits.floorFrac) / 100) * capacityWh, 0),
    nightStartMs: s.night?.startMs ?? span.nightStartMs,
    nightEndMs: outcome.takeover?.tMs ?? span.endMs,
    nights,
    verdict: s.bankSilent ? 'unknown' : verdictOf(outcome.belowFloorProbability, nights, tight),
    doubts: [...s.doubts, ...chargerDoubt(setup.chargersW), ...limits.doubts],
    curve,
    ladder,
    energyWh: {
      minisplit: energy(ensemble.minisplitW),
      standing: energy(ensemble.standingW),
      inverter: energy(ensemble.inverterW),
      panels: energy(ensemble.panelsW),
    },
    ...helps,
  };
}

const chargerDoubt = (chargersW: number): string[] =>
  chargersW > 0 ? [`${Math.round(chargersW)} W come in from another charger; nobody has said for how long`] : [];

/** Nights until when the verdict says that it is learning; a bank that more likely than not falls short is said so from the second night on. */
const LEARNING_NIGHTS = 5;
const FIRST_NIGHTS = 2;
/** A bank that holds less often than the owner wants is tight; where nothing is said, than nine nights in ten. */
const CONFIDENCE = 0.9;

function verdictOf(belowFloorProbability: number, nights: number, tight: number): Projection['verdict'] {
  if (nights < FIRST_NIGHTS || (nights < LEARNING_NIGHTS && belowFloorProbability <= 0.5)) return 'learning';
  return belowFloorProbability > 0.5 ? 'falls-short' : belowFloorProbability > tight ? 'tight' : 'holds';
}

function curveOf(e: Ensemble, s: Snapshot, span: Span): Projection['curve'] {
  const curve: Projection['curve'] = [];
  for (let k = 0; k <= e.steps; k++) {
    const q = quantiles(e.soc.subarray(k * e.members, (k + 1) * e.members), span.startMs + k * span.stepMs, s.spread);
    const at = Math.min(k, e.steps - 1);
    curve.push({
      tMs: q.tMs,
      p10Pct: q.p10Pct,
      p25Pct: q.p25Pct,
      p50Pct: q.p50Pct,
      p75Pct: q.p75Pct,
      p90Pct: q.p90Pct,
      panelsW: round(e.panelsW[at] as number, 0),
      minisplitW: round(e.minisplitW[at] as number, 0),
      standingW: round(e.standingW[at] as number, 0),
      inverterW: round(e.inverterW[at] as number, 0),
    });
  }
  return curve;
}
