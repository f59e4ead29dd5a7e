import type { z } from 'zod';
import type { RigPort } from '../../dashboard/server/ports.ts';
import { acknowledge } from '../../engine/alarms/reduce.ts';
import { staysOf } from '../../engine/ledger/stay.ts';
import { trackRecord } from '../../engine/ledger/track.ts';
import type { Bin } from '../../engine/types.ts';
import { AppError } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Command, CommandResult, History, SocHistory } from '../../shared/schema/api.ts';
import { DayRow } from '../../shared/schema/ledger.ts';
import { NightRow } from '../../shared/schema/projection.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Advisor } from './advisor.ts';
import type { Announced } from './announced.ts';
import type { RigClock } from './clock.ts';
import type { Core } from './core.ts';
import type { Keeper } from './keeper.ts';
import type { LiveView } from './live-view.ts';

export interface RigPortOptions {
  readonly view: LiveView;
  readonly core: Core;
  /** Null where no load can be announced. */
  readonly announced: Announced | null;
  readonly store: RigStore;
  readonly keeper: Keeper;
  readonly clock: RigClock;
  readonly advisor: Advisor;
  file(): RigFile;
  log(what: string): void;
}

/** Rows given at once; ten years of nights, or more than a year of ten-minute means. */
const MOST_ROWS = 60_000;

/** The server's port to the running rig: the live view, and what must be asked of the store or changes something. */
export function createRigPort({ view, core, announced, store, keeper, clock, advisor, file, log }: RigPortOptions): RigPort {
  /** Stored rows of a kind that fit their schema. */
  async function rows<S extends z.ZodType>(kind: string, schema: S, fromMs: EpochMs, toMs: EpochMs): Promise<z.infer<S>[]> {
    const stored = await store.list(kind, fromMs, toMs, MOST_ROWS);
    return stored.flatMap(({ body }) => {
      const parsed = schema.safeParse(JSON.parse(body));
      return parsed.success ? [parsed.data] : [];
    });
  }
  /** Acknowledges an alarm; why it was refused, '' when it was not. */
  async function acknowledged({ alarmId, occurrence }: Extract<Command, { kind: 'acknowledge' }>): Promise<string> {
    const time = clock.now();
    const { state, changes, refused } = acknowledge(core.loop.alarms(), alarmId, occurrence, time);
    if (refused !== '') return refused;
    core.loop.setAlarms(state);
    await keeper.alarms(state, changes, time.wallMs);
    view.changed({ parts: ['alarms'] });
    return '';
  }

  /** Announces a load or takes one out, likewise; the next step counts it and projects anew. */
  async function replanned(command: Exclude<Command, { kind: 'acknowledge' }>): Promise<string> {
    if (!announced) return 'a recording is played, and nothing can be planned in it';
    const now = clock.now().wallMs;
    const refused = await (command.kind === 'plan-load' ? announced.add(command, now) : announced.drop(command.loadId, now));
    if (refused !== '') return refused;
    core.loop.projectSoon();
    view.changed({ parts: ['plan'] });
    return '';
  }

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

    nights: (fromMs, toMs) => rows('night', NightRow, fromMs, toMs),
    days: (fromMs, toMs) => rows('day', DayRow, fromMs, toMs),
    async lookBack(fromMs, toMs) {
      const nights = await rows('night', NightRow, fromMs, toMs);
      return { stays: staysOf(nights), track: trackRecord(nights) };
    },
    advise: advisor.ask,

    async command(command, by): Promise<CommandResult> {
      const reason = await (command.kind === 'acknowledge' ? acknowledged(command) : replanned(command));
      if (reason === '') log(`${by} ${deed(command)}`);
      return { id: command.id, done: reason === '', reason };
    },
  };
}

/** What a command did, for the log. */
function deed(command: Command): string {
  if (command.kind === 'acknowledge') return `acknowledged ${command.alarmId}`;
  if (command.kind === 'drop-load') return `took the planned load ${command.loadId} out`;
  return `planned ${command.powerW} W for ${command.minutes} min (${command.id})`;
}

function socPoint({ tMs, socFrac, panelsW, minisplitW, standingW, surplusW }: Bin): SocHistory['points'][number] {
  return { tMs, socPct: socFrac === null ? null : 100 * socFrac, panelsW, minisplitW, standingW, surplusW };
}
