import { createWriter, type WriterOptions } from '../../collector/ingest/writer.ts';
import { learnedCapacityAh } from '../../engine/bank/bank.ts';
import { type Observation, STEP_MS } from '../../engine/types.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { HealthView, NotKept, SignalState } from '../../shared/schema/live.ts';
import type { ReachView } from '../../shared/schema/notice.ts';
import type { Message } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Senders } from '../routes/senders.ts';
import { createAdvisor } from './advisor.ts';
import { type AlarmDesk, type AlarmPast, createAlarmDesk } from './alarm-desk.ts';
import { createAnnounced } from './announced.ts';
import { blindText, withBlind } from './blind.ts';
import { believedTwice } from './board-time.ts';
import type { BoxClock, RigClock } from './clock.ts';
import { setEntry } from './clock-step.ts';
import { type CopyPort, noCopy } from './copy-port.ts';
import { type Core, createCore } from './core.ts';
import type { EditPort } from './file-edits.ts';
import { createForetaste } from './foretaste.ts';
import type { Holding } from './holding.ts';
import type { JobRunner } from './jobs.ts';
import { createKeeper } from './keeper.ts';
import { createLiveView, quietChanges } from './live-view.ts';
import { createPreviewThread } from './preview-thread.ts';
import type { Past } from './resume.ts';
import { createRetention } from './retention.ts';
import { createRigPort, type RunningPort } from './rig-port.ts';
import type { RunFacts, Status } from './status.ts';
import { createStoreFaults } from './store-faults.ts';

export interface LiveOptions {
  readonly file: RigFile;
  readonly store: RigStore;
  readonly clock: RigClock;
  /** The box's own time, where it is the rig's, and what holds readings while it is not known; left out: it always is. */
  readonly box?: { readonly clock: BoxClock; readonly holding: Holding } | undefined;
  readonly runner: JobRunner;
  readonly past: Past;
  readonly facts: RunFacts;
  /** Who is told of alarms and how; null: nobody is, as for a recording. */
  readonly told: { readonly senders: Senders; readonly past: AlarmPast } | null;
  /** The copy on a server; left out: there is none. */
  readonly copy?: CopyPort;
  /** The port for edits of the rig file by command; a text: why there is none. */
  edits(): EditPort | string;
  /** What a person should know of how the store was opened; left out or '' when there is nothing. */
  storeNote?(): string;
  readonly log: { info(what: string): void; warn(what: string): void };
}

/** A rig that runs: messages in, the server's port out, but for what is about the box. */
export interface Live {
  readonly port: RunningPort;
  /** The rig file in force, and the capacity of the bank by the evidence there is; null while there is none. */
  settings(): { readonly file: RigFile; readonly capacityLearnedAh: number | null };
  /** Takes a message that arrives now. */
  accept(message: Omit<Message, 'tMs'>): void;
  /** Null while the disk keeps up with what comes, else settled when it does again. */
  room(): Promise<void> | null;
  brokerIs(status: HealthView['broker'], reason: string): void;
  replaceFile(file: RigFile, fault: string | null): void;
  /** Before `start`: makes up for the time until `untilMs`, from the stored readings and then from messages with times of their own. */
  catchUp(messages: Iterable<Message>, untilMs: EpochMs): Promise<void>;
  /** Open screens by whether they may sound. */
  tablets(): ReachView['tablets'];
  /** From here on the clock drives the engine. */
  start(): void;
  /** Keeps all that is not kept yet, now. */
  flush(): Promise<void>;
  /** Stops, with everything kept. The store stays open. */
  close(): Promise<void>;
}

/** The wall clock was set when it moved by so much against the monotonic one. No time has passed then, so that no step makes up for it. */
const SET_MS = 60_000;
/** A step this far behind the clock is not made up for: the box slept. */
const MOST_BEHIND_MS = 86_400_000;
/** Of the time that is made up for, the newest projections are made, and one an hour, by which the engine judges itself. */
const PROJECTION_OF_USE_MS = 30 * 60_000;
const HOUR_MS = 3_600_000;
/** What is made up for is kept so often, ms of its own time. */
const FLUSH_EVERY_MS = 6 * 3_600_000;
const QUIET_CHECK_MS = 1000;
/** What a reading changes beside its signal. */
const FLOWS = ['flows'] as const;

export function openLive({
  file: firstFile,
  store,
  clock,
  box,
  runner,
  past,
  facts,
  told,
  copy = noCopy,
  edits,
  storeNote = () => '',
  log,
}: LiveOptions): Live {
  const holding = box?.holding;
  /** The rig file as last handed in, and as in force. */
  let given = firstFile;
  let file = firstFile;
  const rigId = file.rig.id;
  const status: Status = {
    broker: 'connecting',
    brokerSinceMs: clock.now().wallMs,
    brokerWhy: '',
    store: 'ok',
    copy,
    notKept: () => faults.list(),
    storeNote,
    rigFileFault: null,
  };
  let observation: Observation | null = null;
  let timers: NodeJS.Timeout[] = [];
  let brokerSaid = '';
  let alarmsSaid = '';
  let states: readonly SignalState[] = [];
  let projectFromMs = Number.NEGATIVE_INFINITY;
  let seenAt = clock.now();
  let isKnown = box?.clock.isKnown() ?? true;

  const faults = createStoreFaults({ nowMs: () => clock.now().wallMs, readings: () => writer.state(), documents: () => keeper.state() });
  const storeIs = (what: NotKept['what'], fault: unknown, said: string) => {
    if (fault === null) faults.over(what);
    else faults.began(what, fault);
    status.store = faults.list().length > 0 ? 'failing' : 'ok';
    log.warn(`${what}: ${said}`);
    view.changed({ parts: ['health'] });
  };
  const writing: Omit<WriterOptions, 'store'> = {
    commitEveryMs: file.store.commitEvery * 1000,
    timers: {
      after(delayMs, action) {
        const timer = setTimeout(action, delayMs);
        return () => clearTimeout(timer);
      },
    },
    onFault: (error) => storeIs('readings', error, `the store fails: ${reasonOf(error)}`),
    onRecovered: (dropped) => storeIs('readings', null, `the store works again; ${dropped} were lost`),
  };
  const kept = createWriter({ ...writing, store });
  const writer = holding ? holding.around(kept, writing) : kept;
  const keeper = createKeeper({
    store,
    rigId,
    ...(box && { placed: box.clock.isKnown }),
    ...(told && { beside: (outcome) => (desk as AlarmDesk).beside(outcome) }),
    onFault: (error) => storeIs('documents', error, `the store fails: ${reasonOf(error)}`),
    onRecovered: () => storeIs('documents', null, 'the store works again'),
  });
  const hearBoard = believedTwice(
    () => clock.now().monoMs,
    (tMs) => {
      if (box && !box.clock.isKnown()) box.clock.learn(tMs, 'a satellite receiver');
    },
  );
  // What a recording brings is what a replay brings: nobody announces anything in it.
  const announced = facts.recorded ? null : createAnnounced(store, rigId, past.planned);
  const core = createCore({
    file,
    writer: {
      push(readings) {
        writer.push(readings);
        // Until the time is known they have none that a server could use; it gets them when they are put into the store.
        if (!box || box.clock.isKnown()) copy.push(readings);
      },
    },
    keeper,
    run(job, bins) {
      const isOld = job.dueMs < projectFromMs;
      return isOld && job.kind === 'project' && job.atMs % HOUR_MS !== 0 ? null : runner.run(job, bins, !isOld);
    },
    resume: past.resume,
    ...(box && { onBoardClock: hearBoard }),
    ...(announced && { planFor: announced.plan }),
    ...(told && { box: () => (desk as AlarmDesk).box() }),
    timeOf(stepMs) {
      const now = clock.now();
      return { ...now, wallMs: stepMs, monoMs: now.monoMs - (now.wallMs - stepMs) };
    },
    onJobFault: (job, error) => log.warn(`the job ${job.id} failed: ${reasonOf(error)}`),
    onStep({ observation: seen, changes }) {
      for (const job of seen.jobs) if (job.kind === 'project') advisor.noted(job);
      observation = { ...seen, bank: withBlind(seen.bank, past.blind, seen.state.stepMs, core.models.current().timeZone) };
      const says = JSON.stringify((desk?.views() ?? core.alarms()).map(({ text, helps, sounds }) => [text, helps, sounds]));
      const isRetold = says !== alarmsSaid;
      alarmsSaid = says;
      for (const { id, lifecycle, priority, text } of changes) log.info(`alarm ${id} (${priority}): ${lifecycle}. ${text}`);
      // What led to an alarm is on the disk before the power may go.
      if (changes.length > 0) void writer.flush();
      desk?.kept();
      view.changed({
        parts: ['bank', 'flows', ...(seen.projection ? (['projection'] as const) : []), ...(changes.length > 0 || isRetold ? (['alarms'] as const) : [])],
      });
    },
  });
  const dropOld = createRetention({
    ...{ store, rigIds: [rigId], now: clock.now, warn: log.warn },
    isSynced: () => box?.clock.isSynced() ?? true,
    keepMs: () => file.store.keepRaw * 1000,
  });
  const previews = createPreviewThread();
  const advisor = createAdvisor({ runner, bins: core.bins.between, plan: () => observation?.state.plan ?? { loads: [] } });
  const foretaste = createForetaste({
    advisor,
    runner,
    bins: core.bins.between,
    ready: () => view.changed({ parts: ['projection'] }),
    onFault: log.warn,
  });
  const desk: AlarmDesk | null =
    told &&
    createAlarmDesk({
      ...told,
      core: () => core,
      keeper,
      store,
      clock,
      status,
      advisor,
      file: () => file,
      observation: () => observation,
      changed: (parts) => view.changed({ parts }),
      log,
    });
  const view = createLiveView({
    core,
    foretaste,
    announced,
    desk,
    clock,
    status,
    facts,
    held: () => holding?.held() ?? null,
    file: () => file,
    observation: () => observation,
  });
  const port = createRigPort({
    view,
    core,
    announced,
    desk,
    edits,
    store,
    keeper,
    clock,
    box: box?.clock ?? null,
    advisor,
    previews,
    file: () => file,
    observation: () => observation,
    log: log.info,
  });
  core.pipeline.recall(past.newest);
  if (past.blind) log.warn(blindText(past.blind, core.models.current().timeZone));
  let indexes = indexesOf(core);

  /** Steps up to now; after a jump of the clock the grid starts anew there. */
  function step(): void {
    const time = clock.now();
    const now = time.wallMs;
    const setMs = now - seenAt.wallMs - (time.monoMs - seenAt.monoMs);
    seenAt = time;
    void holding?.tick();
    const nextMs = core.loop.nextStepMs();
    const wasKnown = isKnown;
    isKnown = box?.clock.isKnown() ?? true;
    // The first time that is known is told with the readings that waited for it.
    if (Math.abs(setMs) > SET_MS && wasKnown) void keeper.keep([setEntry(now, setMs)]);
    if (Math.abs(setMs) > SET_MS || now < nextMs - 2 * STEP_MS || now > nextMs + MOST_BEHIND_MS) {
      log.warn('the clock was set or the box slept; the engine goes on from the new time');
      core.loop.jumpTo(now);
    }
    core.loop.advanceTo(now).catch((error: unknown) => log.warn(`a step failed: ${reasonOf(error)}`));
    void dropOld();
  }

  /** Tells the screens what changes without a reading: silence, counts, the sun. */
  function checkQuiet(): void {
    const now = core.pipeline.states(clock.now().wallMs);
    const signals = quietChanges(states, now);
    states = now;
    view.changed({ signals, parts: ['health', 'sun'] });
  }

  return {
    port,
    accept({ topic, payload, retained }) {
      const signals: number[] = [];
      for (const { signal } of core.accept({ tMs: clock.now().wallMs, topic, payload, retained })) {
        const index = indexes.get(signal);
        if (index !== undefined) signals.push(index);
      }
      if (signals.length > 0) view.changed({ signals, parts: FLOWS });
    },
    room: writer.room,
    brokerIs(broker, reason) {
      const said = `broker ${broker}${reason === '' ? '' : `: ${reason}`}`;
      // One that stays away for days for the same reason is said once, not at every attempt.
      if (broker !== 'connecting') {
        if (said !== brokerSaid) log.info(said);
        brokerSaid = said;
      }
      // Between attempts it is lost, in them connecting; for how long it has been away counts over all of them.
      if ((broker === 'connected') !== (status.broker === 'connected')) status.brokerSinceMs = clock.now().wallMs;
      status.broker = broker;
      // While it is tried anew, why the last attempt failed is what a person can do something about.
      if (broker !== 'connecting' || status.brokerWhy === '') status.brokerWhy = broker === 'connected' ? '' : reason.slice(0, 300);
      if (broker === 'connected') told?.senders.brokerIsBack();
      view.changed({ parts: ['health'] });
    },
    replaceFile(next, fault) {
      status.rigFileFault = fault;
      if (fault !== null) log.warn(`the rig file as it is now is not in force: ${fault}`);
      if (next === given) return view.changed({ parts: ['rig'] });
      given = next;
      log.info('the rig file as edited is in force');
      // All that was kept lies under the id of the start; under another the past would be gone.
      file = { ...next, rig: { ...next.rig, id: rigId } };
      const before = core.models.current();
      core.replaceFile(file);
      foretaste.wanted(before, core.models.current());
      void told?.senders.replace(file);
      indexes = indexesOf(core);
      states = core.pipeline.states(clock.now().wallMs);
      view.changed({ everything: true });
    },
    async catchUp(messages, untilMs) {
      projectFromMs = untilMs - PROJECTION_OF_USE_MS;
      keeper.catchingUp(true);
      const before = async (tMs: EpochMs) => {
        if (core.loop.nextStepMs() < tMs) await core.loop.advanceTo(tMs);
      };
      for (const reading of past.readings) {
        await before(reading.tMs);
        core.loop.offer(reading.tMs, [reading], null);
      }
      let flushedMs = Number.NEGATIVE_INFINITY;
      for (const message of messages) {
        await before(message.tMs);
        core.accept(message);
        if (message.tMs - flushedMs < FLUSH_EVERY_MS) continue;
        flushedMs = message.tMs;
        await Promise.all([writer.flush(), keeper.flush()]);
      }
      await core.loop.advanceTo(untilMs);
      await Promise.all([writer.flush(), keeper.flush()]);
      keeper.catchingUp(false);
      core.pipeline.countAnew();
      projectFromMs = Number.NEGATIVE_INFINITY;
    },
    settings() {
      const rig = core.models.current();
      const learnedAh = learnedCapacityAh(core.loop.engine().bank, rig);
      return { file, capacityLearnedAh: learnedAh === rig.capacityAh ? null : learnedAh };
    },
    tablets: () => desk?.reach()?.tablets ?? { sounding: 0, silent: 0 },
    start() {
      // A recording is projected at the marks alone, so that it gives what a replay gives.
      if (!facts.recorded) core.loop.projectSoon();
      step();
      timers = [
        setInterval(step, Math.max(50, Math.min(1000, STEP_MS / facts.pace / 4))),
        setInterval(checkQuiet, QUIET_CHECK_MS),
        setInterval(() => desk?.tick(), QUIET_CHECK_MS),
      ];
    },
    async flush() {
      await Promise.all([writer.flush(), keeper.flush()]);
    },
    async close() {
      for (const timer of timers) clearInterval(timer);
      await core.loop.idle();
      await desk?.close();
      await writer.close();
      await holding?.close();
      await keeper.flush();
      await previews.close();
      await runner.close();
    },
  };
}

const indexesOf = ({ pipeline }: Core) => new Map(pipeline.infos().map(({ name, index }) => [name, index]));
