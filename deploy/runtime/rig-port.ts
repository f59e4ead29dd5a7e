import type { z } from 'zod';
import type { AlarmPort, RigPort } from '../../dashboard/server/ports.ts';
import { quantitiesOf } from '../../engine/alarms/quantities.ts';
import { noBox } from '../../engine/alarms/seen.ts';
import { staysOf } from '../../engine/ledger/stay.ts';
import { trackRecord } from '../../engine/ledger/track.ts';
import type { Bin, Observation } from '../../engine/types.ts';
import { AppError } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Command, CommandResult, History, SocHistory } from '../../shared/schema/api.ts';
import { DayRow } from '../../shared/schema/ledger.ts';
import { NightRow } from '../../shared/schema/projection.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Advisor } from './advisor.ts';
import { alarmBook } from './alarm-book.ts';
import { createAlarmCommands, deedText } from './alarm-commands.ts';
import type { AlarmDesk } from './alarm-desk.ts';
import type { EditPort } from './alarm-edits.ts';
import { createAlarmLog } from './alarm-log.ts';
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
  /** Null where nobody is told of alarms. */
  readonly desk: AlarmDesk | null;
  /** The port for edits of the rig file; a text: why there is none. */
  edits(): EditPort | string;
  readonly store: RigStore;
  readonly keeper: Keeper;
  readonly clock: RigClock;
  readonly advisor: Advisor;
  file(): RigFile;
  observation(): Observation | null;
  log(what: string): void;
}

/** Rows given at once; ten years of nights, or more than a year of ten-minute means. */
const MOST_ROWS = 60_000;

/** The server's port to the running rig: the live view, and what must be asked of the store or changes something. */
export function createRigPort(options: RigPortOptions): RigPort {
  const { view, core, announced, desk, edits, store, keeper, clock, advisor, file, observation, log } = options;
  const commands = createAlarmCommands({ core, keeper, clock, desk, edits });
  const alarmLog = createAlarmLog({ store, nowMs: view.nowMs });
  /** Stored rows of a kind that fit their schema. */
  async function rows<S extends z.ZodType>(kind: string, schema: S, fromMs: EpochMs, toMs: EpochMs): Promise<z.infer<S>[]> {
    const stored = await store.list(kind, fromMs, toMs, MOST_ROWS);
    return stored.flatMap(({ body }) => {
      const parsed = schema.safeParse(JSON.parse(body));
      return parsed.success ? [parsed.data] : [];
    });
  }
  /** Announces a load or takes one out, likewise; the next step counts it and projects anew. */
  async function replanned(command: Extract<Command, { kind: 'plan-load' | 'drop-load' }>): Promise<string> {
    if (!announced) return 'a recording is played, and nothing can be planned in it';
    const now = clock.now().wallMs;
    const refused = await (command.kind === 'plan-load' ? announced.add(command, now) : announced.drop(command.loadId, now));
    if (refused !== '') return refused;
    core.loop.projectSoon();
    view.changed({ parts: ['plan'] });
    return '';
  }

  async function done(command: Command, by: string): Promise<string> {
    switch (command.kind) {
      case 'plan-load':
      case 'drop-load':
        return replanned(command);
      case 'acknowledge':
      case 'shelve':
      case 'unshelve': {
        const refused = await commands.life(command, by);
        view.changed({ parts: ['alarms'] });
        return refused;
      }
      default: {
        const refused = await commands.desk(command, by);
        view.changed({ parts: ['reach', 'watch'] });
        return refused;
      }
    }
  }

  const alarmPort: AlarmPort = {
    alarmBook() {
      const seen = observation();
      const tMs = view.nowMs();
      return alarmBook({
        file: file(),
        rules: core.rules(),
        edits: edits(),
        quantities: seen && quantitiesOf(seen, core.models.current(), { ...noBox, ...desk?.box() }, tMs),
        infos: core.pipeline.infos(),
        states: core.pipeline.states(tMs),
        pushKey: desk?.senders.pushKey ?? null,
      });
    },
    alarmLog: alarmLog.search,
    alarmFigures: alarmLog.figures,
    async receipt(receipt) {
      if (!desk?.notifier.received(receipt)) throw new AppError('NOT_FOUND', 'no such notice has gone out, or it has been forgotten since');
    },
    tabletIs: (clientId, permission) => desk?.notifier.tabletIs(clientId, permission),
  };

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
    ...alarmPort,

    async command(command, by): Promise<CommandResult> {
      const reason = await done(command, by);
      if (reason === '') log(`${by} ${deed(command)}`);
      return { id: command.id, done: reason === '', reason };
    },
  };
}

/** What a command did, for the log. */
function deed(command: Command): string {
  switch (command.kind) {
    case 'plan-load':
      return `planned ${command.powerW} W for ${command.minutes} min (${command.id})`;
    case 'drop-load':
      return `took the planned load ${command.loadId} out`;
    default:
      return deedText(command);
  }
}

function socPoint({ tMs, socFrac, panelsW, minisplitW, standingW, surplusW }: Bin): SocHistory['points'][number] {
  return { tMs, socPct: socFrac === null ? null : 100 * socFrac, panelsW, minisplitW, standingW, surplusW };
}
