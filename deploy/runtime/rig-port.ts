import type { z } from 'zod';
import type { AlarmPort, BoxPort, RigPort } from '../../dashboard/server/ports.ts';
import { quantitiesOf } from '../../engine/alarms/quantities.ts';
import { noBox } from '../../engine/alarms/seen.ts';
import { staysOf } from '../../engine/ledger/stay.ts';
import { trackRecord } from '../../engine/ledger/track.ts';
import type { Bin, Observation } from '../../engine/types.ts';
import { AppError } from '../../shared/errors.ts';
import { NOT_AFTER_MS, NOT_BEFORE_MS } from '../../shared/not-before.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Command, CommandResult, History, SocHistory } from '../../shared/schema/api.ts';
import { DayRow } from '../../shared/schema/ledger.ts';
import { NightRow } from '../../shared/schema/projection.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Advisor } from './advisor.ts';
import { alarmBook } from './alarm-book.ts';
import { createAlarmCommands } from './alarm-commands.ts';
import type { AlarmDesk } from './alarm-desk.ts';
import { createAlarmLog } from './alarm-log.ts';
import type { Announced } from './announced.ts';
import type { BoxClock, RigClock } from './clock.ts';
import type { Core } from './core.ts';
import { deed } from './deeds.ts';
import type { EditPort } from './file-edits.ts';
import type { Keeper } from './keeper.ts';
import type { LiveView } from './live-view.ts';
import { createNightNotes } from './night-notes.ts';
import { createNightPort } from './night-port.ts';
import { binsBetween } from './past-bins.ts';
import { createPreviewPort } from './preview-port.ts';
import type { PreviewRunner } from './preview-thread.ts';
import { editRig } from './rig-edits.ts';
import { createSensorPort } from './sensor-port.ts';

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
  /** The box's own time; null where the rig runs on another. */
  readonly box: BoxClock | null;
  readonly advisor: Advisor;
  readonly previews: PreviewRunner;
  file(): RigFile;
  observation(): Observation | null;
  log(what: string): void;
}

/** Rows given at once; more than a hundred years of nights. */
const MOST_ROWS = 60_000;

/** The server's port without what is about the box. */
export type RunningPort = Omit<RigPort, keyof BoxPort>;

/** The server's port to the running rig: the live view, and what must be asked of the store or changes something. */
export function createRigPort(options: RigPortOptions): RunningPort {
  const { view, core, announced, desk, edits, store, keeper, clock, box, advisor, previews, file, observation, log } = options;
  const commands = createAlarmCommands({ core, keeper, clock, desk, edits });
  const notes = createNightNotes(store, file().rig.id);
  const alarmLog = createAlarmLog({ store, nowMs: view.nowMs });
  /** Stored rows of a kind that fit their schema. */
  async function rows<S extends z.ZodType>(kind: string, schema: S, fromMs: EpochMs, toMs: EpochMs): Promise<z.infer<S>[]> {
    const stored = await store.list(kind, fromMs, toMs, MOST_ROWS);
    return stored.flatMap(({ body }) => {
      const parsed = schema.safeParse(JSON.parse(body));
      return parsed.success ? [parsed.data] : [];
    });
  }
  const nights = (fromMs: EpochMs, toMs: EpochMs) => rows('night', NightRow, fromMs, toMs);
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
      case 'tell-time':
        return timeTold(box, command.wallMs, by);
      case 'note-night':
      case 'name-place':
        return notes.write(command, clock.now().wallMs);
      case 'edit-rig': {
        const port = edits();
        return typeof port === 'string' ? port : editRig(command, port);
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
      return { points: (await binsBetween(core.bins, store, fromMs, toMs)).map(socPoint) };
    },

    nights,
    ...createNightPort({ store, bins: core.bins, notes, alarmLog, announced, timeZone: () => core.models.current().timeZone, nights }),
    days: (fromMs, toMs) => rows('day', DayRow, fromMs, toMs),
    async lookBack(fromMs, toMs) {
      const past = await nights(fromMs, toMs);
      return { stays: staysOf(past), track: trackRecord(past) };
    },
    advise: advisor.ask,
    ...alarmPort,
    ...createPreviewPort({
      ...{ store, file, rigId: file().rig.id, bins: core.bins.between, rig: core.models.current },
      engine: core.loop.engine,
      nowMs: () => clock.now().wallMs,
      runner: previews,
    }),
    ...createSensorPort({ core, view, file }),

    async command(command, by): Promise<CommandResult> {
      const reason = await done(command, by);
      if (reason === '') log(`${by} ${deed(command)}`);
      return { id: command.id, done: reason === '', reason };
    },
  };
}

/** Takes the time that a person's device shows; a text: why not. */
function timeTold(box: BoxClock | null, wallMs: EpochMs, by: string): string {
  if (box === null) return 'this rig runs on a time of its own';
  if (box.isSynced()) return 'a time server has set the clock of the box, and knows better';
  if (wallMs < NOT_BEFORE_MS) return 'the clock of this device stands before this program was written; set it first';
  if (wallMs >= NOT_AFTER_MS) return 'the clock of this device stands decades ahead; set it first';
  box.learn(wallMs, `a person (${by})`.slice(0, 80));
  return '';
}

function socPoint({ tMs, socFrac, panelsW, minisplitW, standingW, inverterW, surplusW }: Bin): SocHistory['points'][number] {
  return { tMs, socPct: socFrac === null ? null : 100 * socFrac, panelsW, minisplitW, standingW, inverterW, surplusW };
}
