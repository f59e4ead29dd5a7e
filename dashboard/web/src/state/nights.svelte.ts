import type { LookBack } from '../../../../shared/schema/api.ts';
import type { DayRow } from '../../../../shared/schema/ledger.ts';
import type { NightCurves, PlaceName } from '../../../../shared/schema/night-book.ts';
import type { NightRow } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { placeLabels } from '../format/place-groups.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

const DAY_MS = 86_400_000;
/** How far back the ledger goes at first and with each step further, ms. */
const BACK_MS = 60 * DAY_MS;
/** How far back is looked where a step finds nothing: the rig may have been laid up. */
const FAR_MS = 400 * DAY_MS;
/** How far back the list of days goes, ms. */
const DAYS_BACK_MS = 14 * DAY_MS;

/** The ledger of nights with their small curves and the names of places, the newest first; fetched when the place is opened and on every reconnection. */
export class NightsState {
  readonly #app: App;
  rows = $state.raw<readonly NightRow[] | null>(null);
  curves = $state.raw<ReadonlyMap<string, NightCurves[number]>>(new Map());
  names = $state.raw<readonly PlaceName[]>([]);
  days = $state.raw<readonly DayRow[] | null>(null);
  lookBack = $state.raw<LookBack | null>(null);
  /** Nothing older is kept. */
  isWhole = $state(false);
  isFetching = $state(false);
  fault = $state('');
  fromMs: EpochMs = 0;
  toMs: EpochMs = 0;

  constructor(app: App) {
    this.#app = app;
  }

  readonly zone = $derived.by(() => this.#app.live.rig?.timeZone ?? 'UTC');
  readonly units = $derived.by(() => this.#app.live.rig?.units ?? 'metric');
  readonly floorPct = $derived.by(() => this.#app.live.rig?.floorPct ?? null);
  /** What each night's place is called. */
  readonly places = $derived.by(() => placeLabels(this.rows ?? [], this.names));

  /** Fetches the ledger as far back as it goes; what came before a fault stands. */
  async fetch(nowMs: EpochMs): Promise<void> {
    this.toMs = Math.ceil(nowMs);
    if (this.fromMs === 0) this.fromMs = this.toMs - BACK_MS;
    await this.#read(async () => {
      this.names = await getJson<PlaceName[]>('/api/places');
      this.rows = await this.#slice(Math.max(this.fromMs, this.toMs - FAR_MS), this.toMs);
    });
  }

  /** Adds nights that lie further back. */
  async earlier(): Promise<void> {
    await this.#read(async () => {
      for (const backMs of [BACK_MS, FAR_MS]) {
        const fromMs = this.fromMs - backMs;
        const older = await this.#slice(fromMs, this.fromMs);
        if (older.length === 0) continue;
        this.fromMs = fromMs;
        this.rows = [...(this.rows ?? []), ...older];
        return;
      }
      this.isWhole = true;
    });
  }

  /** Fetches days and stays. */
  async fetchDays(nowMs: EpochMs): Promise<void> {
    const range = (backMs: number) => `fromMs=${Math.floor(nowMs - backMs)}&toMs=${Math.ceil(nowMs)}`;
    await this.#read(async () => {
      this.days = (await getJson<DayRow[]>(`/api/days?${range(DAYS_BACK_MS)}`)).toReversed();
      this.lookBack = await getJson<LookBack>(`/api/look-back?${range(BACK_MS)}`);
    });
  }

  async #slice(fromMs: EpochMs, toMs: EpochMs): Promise<NightRow[]> {
    const range = `fromMs=${Math.floor(fromMs)}&toMs=${toMs}`;
    const rows = await getJson<NightRow[]>(`/api/nights?${range}`);
    const curves = rows.length === 0 ? [] : await getJson<NightCurves>(`/api/night-curves?${range}`);
    this.curves = new Map([...this.curves, ...curves.map((curve) => [curve.nightId, curve] as const)]);
    return rows.toReversed();
  }

  async #read(work: () => Promise<void>): Promise<void> {
    this.isFetching = true;
    this.fault = await this.#app.read(work);
    this.isFetching = false;
  }
}
