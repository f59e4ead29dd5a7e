import type { BoxFacts } from '../../engine/alarms/seen.ts';
import type { Observation } from '../../engine/types.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import type { LiveSnapshot } from '../../shared/schema/live.ts';
import { NightRow } from '../../shared/schema/projection.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Senders } from '../routes/senders.ts';
import type { Advisor } from './advisor.ts';
import type { RigClock } from './clock.ts';
import type { Core } from './core.ts';
import type { StepOutcome } from './engine-loop.ts';
import type { Beside, Keeper } from './keeper.ts';
import type { Notified } from './notified.ts';
import { createNotifier, type Notifier } from './notifier.ts';
import type { Status } from './status.ts';
import { createWatchMode, type KeptWatch, type WatchMode } from './watch-mode.ts';
import type { WatchSituation } from './watch-refusals.ts';
import { thermometersOf } from './watch-situation.ts';

/** What an earlier run left of the alarms beside their states. */
export interface AlarmPast {
  readonly notified: Notified;
  readonly watch: KeptWatch;
}

export interface AlarmDeskOptions {
  core(): Core;
  readonly keeper: Keeper;
  readonly store: RigStore;
  readonly clock: RigClock;
  readonly status: Status;
  readonly senders: Senders;
  readonly past: AlarmPast;
  readonly advisor: Advisor;
  file(): RigFile;
  observation(): Observation | null;
  /** Called when these parts of the live view are others. */
  changed(parts: readonly ('alarms' | 'reach' | 'watch')[]): void;
  readonly log: { info(what: string): void; warn(what: string): void };
}

/** Where the alarms of a rig that runs meet its people: who is told, what the watch is armed on, and what the engine hears of its box. */
export interface AlarmDesk {
  readonly notifier: Notifier;
  readonly watchMode: WatchMode;
  readonly senders: Senders;
  box(): Omit<BoxFacts, 'suspect'>;
  views(): readonly Alarm[];
  /** What belongs into the same transaction as the alarms of a step, or of a command. */
  beside(outcome: Pick<StepOutcome, 'time'>): Beside;
  /** The alarms of a step or a command are kept, or the store fails: what shows a state follows them. */
  kept(): void;
  situation(): WatchSituation;
  reach(): LiveSnapshot['reach'];
  watch(): LiveSnapshot['watch'];
  /** Once a second. */
  tick(): void;
  close(): Promise<void>;
}

const DAY_MS = 86_400_000;

export function createAlarmDesk(options: AlarmDeskOptions): AlarmDesk {
  const { keeper, store, clock, status, senders, past, advisor, file, observation, changed, log } = options;
  const core = (): Core => options.core();
  const projection = () => core().loop.engine().projection;
  const views = (): readonly Alarm[] =>
    core()
      .alarms()
      .map((alarm) => ({ ...alarm, sounds: notifier.sounds(alarm.id) }));

  /** The night that ended last. */
  async function lastNight(): Promise<NightRow | null> {
    const { wallMs } = clock.now();
    const stored = (await store.list('night', wallMs - DAY_MS, wallMs + 1, 1)).at(-1);
    const parsed = NightRow.safeParse(stored === undefined ? null : JSON.parse(stored.body));
    return parsed.success ? parsed.data : null;
  }

  /** When what an alarm warns of comes. */
  function eventMs(alarmId: string): EpochMs | null {
    const night = alarmId === 'low-point' ? projection() : null;
    return night && (night.belowFloorMs ?? night.lowPoint.tMs);
  }

  const notifier = createNotifier({
    past: past.notified,
    keep: keeper.keep,
    drop: keeper.drop,
    clock,
    file,
    timeZone: () => core().models.current().timeZone,
    senders: senders.all,
    routesOf: (id) =>
      core()
        .rules()
        .find((rule) => rule.id === id)?.routes ?? null,
    eventMs,
    beat: senders.heartbeat,
    onReach: () => changed(['reach', 'watch']),
    bedtime: () => ({
      projection: projection(),
      remarks: observation()?.bank.remarks ?? [],
      setpointC: core().loop.engine().latest['minisplit.setpoint']?.value ?? null,
    }),
    async tonight() {
      const advice = await advisor.ask({ kind: 'tonight', confidence: file().bank.confidence / 100 });
      return advice.kind === 'tonight' ? advice : null;
    },
    lastNight,
    log,
  });
  const watchMode = createWatchMode({
    store,
    rigId: file().rig.id,
    kept: past.watch,
    nowMs: clock.now().wallMs,
    warn: log.warn,
  });

  function situation(): WatchSituation {
    const { wallMs } = clock.now();
    const { pipeline } = core();
    return {
      nowMs: wallMs,
      units: file().rig.units,
      thermometers: thermometersOf(file(), pipeline.infos(), pipeline.states(wallMs)),
      reach: notifier.reach(),
      heartbeatEveryMs: 1000 * (file().heartbeat?.every ?? 0),
      projection: projection(),
      alarms: views(),
      broker: status.broker,
    };
  }

  return {
    notifier,
    watchMode,
    senders,
    views,
    situation,
    box: () => ({
      brokerLost: status.broker !== 'connected',
      storeFailing: status.store === 'failing',
      copyFailing: status.copy.failing(),
      clockUnsure: !clock.now().clockSure,
      failingRoutes: notifier.failingRoutes(),
      noRoute: notifier.reach().unreachableSinceMs !== null,
      watch: watchMode.facts(situation()),
    }),
    beside: ({ time }) => notifier.onAlarms(views(), time),
    kept() {
      senders.alarmsAre(views());
      changed(['watch']);
    },
    reach: notifier.reach,
    watch: () => watchMode.view(situation()),
    tick: notifier.tick,
    async close() {
      await notifier.close();
      await senders.close().catch((error: unknown) => log.warn(`a route could not be closed: ${reasonOf(error)}`));
    },
  };
}
