import type { RigPort } from '../../dashboard/server/ports.ts';
import { acknowledge } from '../../engine/alarms/reduce.ts';
import type { Bin } from '../../engine/types.ts';
import { AppError } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { CommandResult, History, SocHistory } from '../../shared/schema/api.ts';
import { NightRow } from '../../shared/schema/projection.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { RigClock } from './clock.ts';
import type { Core } from './core.ts';
import type { Keeper } from './keeper.ts';
import type { LiveView } from './live-view.ts';

export interface RigPortOptions {
  readonly view: LiveView;
  readonly core: Core;
  readonly store: RigStore;
  readonly keeper: Keeper;
  readonly clock: RigClock;
  file(): RigFile;
  log(what: string): void;
}

/** Rows given at once; ten years of nights, or more than a year of ten-minute means. */
const MOST_ROWS = 60_000;

/** The server's port to the running rig: the live view, and what must be asked of the store or changes something. */
export function createRigPort({ view, core, store, keeper, clock, file, log }: RigPortOptions): RigPort {
  return {
    ...view,
    async history({ signal, fromMs, toMs, buckets }): Promise<History> {
      const { rig, signals } = file();
      if (!signals.specs.has(signal)) throw new AppError('NOT_FOUND', 'the rig file names no such signal; GET /api/sensors lists those it names');
      const found = await store.buckets(rig.id, signal, fromMs, toMs, buckets);
      return {
        signal,
        fromMs,
        toMs,
        bucketMs: (toMs - fromMs) / buckets,
        min: found.map(({ min }) => min),
        mean: found.map(({ mean }) => mean),
        max: found.map(({ max }) => max),
        count: found.map(({ count }) => count),
      };
    },

    async soc(fromMs, toMs): Promise<SocHistory> {
      const kept = core.bins.between(fromMs, toMs);
      const oldestMs = core.bins.oldestMs();
      const stored = oldestMs === null || fromMs < oldestMs ? await store.list('bin', fromMs, Math.min(toMs, oldestMs ?? toMs), MOST_ROWS) : [];
      return { points: [...stored.map(({ body }) => JSON.parse(body) as Bin), ...kept].map(socPoint) };
    },

    async nights(fromMs, toMs) {
      const stored = await store.list('night', fromMs, toMs, MOST_ROWS);
      return stored.flatMap(({ body }) => {
        const parsed = NightRow.safeParse(JSON.parse(body));
        return parsed.success ? [parsed.data] : [];
      });
    },

    async command(command, by): Promise<CommandResult> {
      const time = clock.now();
      const { state, changes, refused } = acknowledge(core.loop.alarms(), command.alarmId, command.occurrence, time);
      if (refused !== '') return { id: command.id, done: false, reason: refused };
      core.loop.setAlarms(state);
      await keeper.alarms(state, changes, time.wallMs);
      log(`${by} acknowledged ${command.alarmId}`);
      view.changed({ parts: ['alarms'] });
      return { id: command.id, done: true, reason: '' };
    },
  };
}

function socPoint({ tMs, socFrac, panelsW, minisplitW, standingW, surplusW }: Bin): SocHistory['points'][number] {
  return { tMs, socPct: socFrac === null ? null : 100 * socFrac, panelsW, minisplitW, standingW, surplusW };
}
