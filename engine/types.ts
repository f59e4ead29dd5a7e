import type { EngineTime } from '../shared/ports.ts';
import type { Advice, AdviceQuestion } from '../shared/schema/advice.ts';
import type { BankView } from '../shared/schema/flows.ts';
import type { DayRow } from '../shared/schema/ledger.ts';
import type { NightRow, Projection } from '../shared/schema/projection.ts';
import type { Forecast, Reading } from '../shared/schema/reading.ts';
import type { EpochMs, Quantity } from '../shared/units.ts';
import type { Units } from '../shared/value-text.ts';
import type { ChemistryName } from './bank/chemistry.ts';

export type { EngineTime };

/** Degrees north and east. */
export interface Place {
  readonly latitudeDeg: number;
  readonly longitudeDeg: number;
}

/** What the engine needs of the rig file, in the engine's units. Made once a snapshot of the file by `rigModel`. */
export interface RigModel {
  readonly rigId: string;
  readonly chemistry: ChemistryName;
  readonly cells: number;
  readonly capacityAh: number;
  readonly floorFrac: number;
  /** How sure the owner wants to be that the floor holds; left out: 0.9. */
  readonly confidence?: number;
  readonly inverter: { readonly ratedW: number; readonly surgeW?: number | null; readonly idleW: number; readonly cutoffV: number | null } | null;
  readonly panels: readonly { readonly ratedW: number; readonly tiltDeg: number; readonly azimuthDeg: number }[];
  readonly minisplit: {
    readonly minW: number;
    readonly maxW: number;
    readonly modeIndex: number;
    readonly setpointC: number | null;
    readonly setpointsC: readonly [number, number];
  } | null;
  readonly place: Place | null;
  /** Names of the mapped signals with how often each is sent, s. */
  readonly everyS: ReadonlyMap<string, number>;
  /** Power signals measured behind the inverter. */
  readonly acSide: ReadonlySet<string>;
  readonly chargers: readonly string[];
  readonly loads: readonly string[];
  readonly timeZone: string;
  /** Units of what it says; left out: metric. */
  readonly units?: Units;
  /** What mapped signals measure whose names alone do not say. */
  readonly ownQuantities?: Readonly<Record<string, Quantity>>;
  /** Mapped signals that measure a temperature of something. */
  readonly temperatures?: readonly string[];
}

/** Means over ten minutes from `tMs`; null where nothing was measured. The engine's own history: small, kept for 60 days, what jobs learn from. */
export interface Bin {
  readonly tMs: EpochMs;
  /** Share of the ten minutes with fresh bank readings. */
  readonly coverage: number;
  readonly socFrac: number | null;
  readonly voltageV: number | null;
  readonly bankW: number | null;
  readonly panelsW: number | null;
  readonly chargersW: number;
  /** All that is drawn from the bus, W. */
  readonly loadsW: number | null;
  /** As drawn behind the inverter, W. */
  readonly minisplitW: number | null;
  readonly standingW: number | null;
  readonly inverterW: number | null;
  readonly unaccountedW: number | null;
  readonly surplusW: number | null;
  readonly outsideC: number | null;
  readonly cabinC: number | null;
  /** Water in the cabin's air, g/m3. */
  readonly waterGm3: number | null;
  readonly setpointC: number | null;
  readonly modeIndex: number | null;
  /** Panel power over what a clear sky would give; null at night and while curtailed. */
  readonly panelIndex: number | null;
  /** Share of the time in which the bank took less than the panels could give. */
  readonly curtailedFrac: number;
}

/** A planned load: watts at the bank's bus for minutes at a time. */
export interface PlannedLoad {
  readonly name: string;
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  readonly powerW: number;
}

export interface Plan {
  readonly loads: readonly PlannedLoad[];
}

/**
 * Work that a runner does off the hot path: a worker thread live, inline in a replay. Its result comes back as an input at `dueMs`, never
 * earlier or later. The runner adds the bins with fromMs <= tMs < atMs.
 */
export type Job = ProjectJob | RefitJob | AdviseJob;
export interface ProjectJob {
  readonly kind: 'project';
  readonly id: string;
  readonly atMs: EpochMs;
  readonly dueMs: EpochMs;
  readonly fromMs: EpochMs;
  readonly snapshot: Snapshot;
  readonly plan: Plan;
  readonly seed: number;
  readonly members: number;
}
export interface RefitJob {
  readonly kind: 'refit';
  readonly id: string;
  readonly atMs: EpochMs;
  readonly dueMs: EpochMs;
  readonly fromMs: EpochMs;
  readonly context: RefitContext;
}
/** A question about the night ahead; its answer goes to who asked, the engine does nothing with it. `fromMs`: two hours before. */
export interface AdviseJob {
  readonly kind: 'advise';
  readonly id: string;
  readonly atMs: EpochMs;
  readonly dueMs: EpochMs;
  readonly fromMs: EpochMs;
  readonly snapshot: Snapshot;
  readonly plan: Plan;
  readonly seed: number;
  readonly question: AdviceQuestion;
}
export type JobResult =
  | { readonly kind: 'project'; readonly id: string; readonly projection: Projection }
  | { readonly kind: 'refit'; readonly id: string; readonly learned: Learned }
  | { readonly kind: 'advise'; readonly id: string; readonly advice: Advice };

/** What one step gets. `results` are those whose `dueMs` is this step's time. */
export interface EngineInputs {
  readonly readings: readonly Reading[];
  readonly forecasts: readonly Forecast[];
  readonly results: readonly JobResult[];
  /** Planned loads now in force; null when unchanged. */
  readonly plan: Plan | null;
  /** After a start or an edit of the rig file: what is projected may be another now, and does not wait for the next mark. */
  readonly projectNow?: boolean;
}

/** What one step gives. */
export interface Observation {
  readonly state: EngineState;
  readonly bank: BankView;
  readonly jobs: readonly Job[];
  readonly bins: readonly Bin[];
  readonly nights: readonly NightRow[];
  readonly days: readonly DayRow[];
  /** Set on the step in which a projection came in. */
  readonly projection: Projection | null;
  /** What the alarms look at. */
  readonly watched: Watched;
}

/** Quantities that alarms watch; null: not known now, so the condition is unknown. */
export interface Watched {
  readonly belowFloorProbability: number | null;
  /** Named values for the alarm's text. */
  readonly text: {
    readonly lowPointPct: number | null;
    readonly lowPointMs: EpochMs | null;
    readonly floorPct: number;
    readonly belowFloorMs: EpochMs | null;
    /** The bank is under its floor already, in the night that all this speaks of. */
    readonly isUnder: boolean;
    /** End of the night that all this speaks of while that night is still to come; null: it is this night. */
    readonly comingNightEndMs: EpochMs | null;
    readonly timeZone: string;
  };
  /** Why a null is null, in words. */
  readonly unknownBecause: string;
}

/** The newest value of a signal, as the hot path and the live flows see it. */
export interface LatestValue {
  readonly value: number;
  readonly tMs: EpochMs;
  readonly quality: 'ok' | 'suspect' | 'bad';
  readonly fresh: boolean;
}

/** Steps of the engine lie on this grid, ms. */
export const STEP_MS = 10_000;
/** Bins and projections lie on this grid, ms. */
export const BIN_MS = 600_000;

import type { Learned, RefitContext } from './learned.ts';
import type { Snapshot } from './projection/snapshot.ts';
// Opaque outside the engine; JSON-serialisable. `version` decides whether a stored one may be used.
import type { EngineState } from './state.ts';

export type { EngineState, Learned, RefitContext, Snapshot };
