import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { PROJECT_ROOT } from '../project.ts';

/** Recordings with their truth; they lie beside the project, not in it. */
export const REFERENCE = join(PROJECT_ROOT, '..', 'shared', 'recordings');
export const hasReference = () => existsSync(join(REFERENCE, 'score.mjs'));

/** Recorded rigs, with the topic of the weather forecast, which only the bar with a forecast may use. */
export const RIGS = [
  { rig: 'mesa', forecastTopic: 'mesa/forecast' },
  { rig: 'bayou', forecastTopic: 'bayou/bus/forecast' },
  { rig: 'ridge', forecastTopic: 'ridge/van/forecast' },
] as const;
export type RigName = (typeof RIGS)[number]['rig'];

export const MOMENTS = ['sunset', 'third', 'twoThirds'] as const;
export type Moment = (typeof MOMENTS)[number];

/** Mean errors of one rig at one moment, in points of state of charge; the rules beside them know the true state of charge. */
export interface MomentScore {
  readonly nights: number;
  readonly missing: number;
  readonly inside: number;
  readonly error: number;
  readonly bestRule: number;
  readonly dropError: number;
  readonly lowError: number;
  readonly bestLowRule: number;
  readonly socError: number;
  readonly pinball: number;
  readonly rulePinball: number;
  readonly brier: number;
  readonly ruleBrier: number;
}
export type RigScore = Readonly<Record<Moment, MomentScore>>;

/** One minute of what really was. */
export interface TruthRow {
  readonly tMs: number;
  /** State of charge, 0 to 1. */
  readonly soc: number;
}

/** What the scorer beside the recordings offers. */
interface Scorer {
  loadTruth(path: string): readonly TruthRow[];
  nightsOf(rows: readonly TruthRow[]): readonly { readonly set: number; readonly rise: number }[];
  score(rows: readonly TruthRow[], projections: readonly unknown[]): RigScore;
}

export const loadScorer = async (): Promise<Scorer> => (await import(pathToFileURL(join(REFERENCE, 'score.mjs')).href)) as Scorer;
