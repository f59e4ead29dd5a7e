import type { SocHistory } from '../../../../shared/schema/api.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { upTo } from '../charts/columns.ts';
import { getJson } from './api.ts';

/** Cadence of the past points, ms. */
export const TRACE_STEP_MS = 600_000;
const KEEP_MS = 36 * 3_600_000;

type Point = SocHistory['points'][number];

/** The estimated past of the bank, from the store: fetched whole at first, afterwards from the last point known, so that an absence leaves no hole. */
export class Trace {
  points = $state.raw<readonly Point[]>([]);
  #busy = false;

  /** Fetches what is missing up to now. Call on every (re)connection and when a step has passed. Throws ApiFault. */
  async refresh(nowMs: EpochMs): Promise<void> {
    if (this.#busy || nowMs === 0) return;
    this.#busy = true;
    try {
      const known = upTo(this.points, nowMs);
      const from = Math.max(nowMs - KEEP_MS, (known.at(-1)?.tMs ?? 0) - TRACE_STEP_MS);
      const fromMs = Math.floor(from / TRACE_STEP_MS) * TRACE_STEP_MS;
      const toMs = Math.ceil(nowMs);
      const { points } = await getJson<SocHistory>(`/api/soc?fromMs=${fromMs}&toMs=${toMs}`);
      const kept = known.filter((point) => point.tMs < fromMs && point.tMs >= nowMs - KEEP_MS);
      this.points = [...kept, ...points];
    } finally {
      this.#busy = false;
    }
  }

  /** True when a whole step has ended that is not here yet, or the clock was set back behind what is here. */
  isBehind(nowMs: EpochMs): boolean {
    const lastMs = this.points.at(-1)?.tMs ?? 0;
    return lastMs > nowMs || nowMs - lastMs >= 2 * TRACE_STEP_MS;
  }
}
