import { setMaxListeners } from 'node:events';
import type { Stop } from '../../engine/notify/call.ts';
import { isLoud } from '../../engine/notify/call-out.ts';
import { alarmDraft, draft, expiryMs, type Letterhead, overDraft, wordsOf } from '../../engine/notify/notice.ts';
import { added, awoken, expired, type Outbox, received, refreshed, withdrawn } from '../../engine/notify/outbox.ts';
import { stepPlan, type Telling } from '../../engine/notify/plan.ts';
import { confirmed, delivered, type PresentRoute } from '../../engine/notify/reach.ts';
import { isWithin } from '../../engine/notify/time-of-day.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { EngineTime, Sender, SendResult } from '../../shared/ports.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import type { Receipt } from '../../shared/schema/api.ts';
import type { OutboxEntry, ReachView } from '../../shared/schema/notice.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { RigClock } from './clock.ts';
import { createDispatch } from './dispatch.ts';
import type { Beside } from './keeper.ts';
import { type Document, documentOf, NOTIFY_KIND, type Notified } from './notified.ts';
import { type Beat, createReachKeeper, type Permission } from './reach-keeper.ts';
import { createRounds, type RoundInputs } from './rounds.ts';

export interface NotifierOptions extends RoundInputs {
  readonly past: Notified;
  /** Keeps documents, and holds on to them while the store fails; settled when they are on disk or held. */
  keep(documents: readonly Document[]): Promise<void>;
  drop(kind: string, ids: readonly string[]): void;
  readonly clock: RigClock;
  file(): Pick<RigFile, 'rig' | 'routes' | 'callOut' | 'briefings' | 'heartbeat'>;
  timeZone(): string;
  senders(): ReadonlyMap<string, Sender>;
  /** A rule's own routes; null: those of its priority. */
  routesOf(alarmId: string): readonly string[] | null;
  /** When what an alarm warns of is over or comes, such as the low point; null: nothing tells. */
  eventMs(alarmId: string): EpochMs | null;
  /** Calls the owner's address once; null where none is set up. */
  beat(): Beat | null;
  /** Called when the reach of alarms has changed. */
  onReach(): void;
  readonly log: { info(what: string): void; warn(what: string): void };
}

/** Tells people: who, by which way, until it got through. */
export interface Notifier {
  /**
   * Plans the notices of a step, from every alarm as it stands. What it gives belongs into the same transaction as the alarm state; none of it
   * is sent before its own `kept` is called.
   */
  onAlarms(alarms: readonly Alarm[], time: EngineTime): Beside;
  /** Once a second: time that has passed, what is due, probes, heartbeat, the evening's check and the briefings. */
  tick(): void;
  /** A test by one route or all of them; why it was refused, '' when it was not. */
  tryRoutes(route: string | null): string;
  /** A device has shown a notice; false when no such notice went out. */
  received(receipt: Receipt): boolean;
  tabletIs(clientId: string, permission: Permission | null): void;
  reach(): ReachView;
  /** Whether open screens sound for an alarm now. */
  sounds(alarmId: string): boolean;
  /** Routes that do not work now, tablets left out. */
  failingRoutes(): readonly string[];
  /** Ends what is under way; what has not got through stays in the outbox. */
  close(): Promise<void>;
}

/** What waits about an alarm that still calls is renewed when it would expire within this. */
const RENEW_MS = 60_000;
/** Who has been called is kept so often while an alarm calls, so that a clock that was lost with the power delays nobody by more. */
const PLAN_KEPT_MS = 60_000;
/** Alarms that have not been looked at for so long are not watched: a far-away party must notice. */
const WATCHED_MS = 300_000;

export function createNotifier(options: NotifierOptions): Notifier {
  const { clock, senders, file, log } = options;
  const closing = new AbortController();
  // Every attempt under way listens to it.
  setMaxListeners(0, closing.signal);
  let { plan } = options.past;
  /** Null before the first step. */
  let alarms: ReadonlyMap<string, Alarm> | null = null;
  let lookedMonoMs = clock.now().monoMs;
  let planKeptMonoMs = lookedMonoMs;

  const keep = (documents: readonly Document[]): Promise<void> =>
    documents.length === 0 ? Promise.resolve() : options.keep(documents).catch((error: unknown) => log.warn(`notices could not be kept: ${reasonOf(error)}`));
  const present = (): PresentRoute[] => [...senders()].map(([name, sender]) => ({ name, kind: sender.kind, remote: sender.remote, targets: sender.targets() }));
  const letterhead = (nowMs: EpochMs): Letterhead => ({ rigName: file().rig.name, nowMs, timeZone: options.timeZone() });
  const planDocument = (nowMs: EpochMs): Document => documentOf(NOTIFY_KIND, 'plan', nowMs, plan);

  const dispatch = createDispatch({
    outbox: asOf(clock.now(), options.past),
    clock,
    senders,
    keep,
    drop: options.drop,
    renewed,
    onJump(time) {
      plan = { ...plan, keptAt: time };
      return [planDocument(time.wallMs)];
    },
    onResult,
    closing: closing.signal,
  });
  const reachKeeper = createReachKeeper({
    clock,
    senders,
    present,
    isTrying: (route) => dispatch.outbox().some((entry) => entry.route === route && entry.state === 'waiting' && entry.attempts > 0),
    heartbeat: () => file().heartbeat ?? null,
    beat: options.beat,
    isWatched: () => clock.now().monoMs - lookedMonoMs < WATCHED_MS,
    past: options.past.reach,
    closing: closing.signal,
    keep: (documents) => void keep(documents),
    onChange: options.onReach,
  });
  const rounds = createRounds({
    inputs: options,
    file,
    timeZone: options.timeZone,
    past: options.past.done,
    reach: reachKeeper.view,
    present,
    post: (routes, what, beside) => dispatch.post(routes, what, { beside }),
    log,
  });

  function told(next: Outbox, { alarm, why, routes, standsMs, count }: Telling, nowMs: EpochMs): Outbox {
    const what = alarmDraft({ alarm, why, routes, standsMs, count }, options.eventMs(alarm.id), letterhead(nowMs));
    return dispatch.entriesFor(routes, what, `${what.eventId}/${count} ${nowMs}`, nowMs).reduce(added, next);
  }

  function stopped(next: Outbox, stop: Stop, nowMs: EpochMs): Outbox {
    const ofAlarm = next.filter(({ notice }) => notice.kind === 'alarm' && notice.alarmId === stop.alarmId && (notice.occurrence ?? 0) >= stop.firstOccurrence);
    const reached = ofAlarm.filter(({ id, state }) => state === 'delivered' || dispatch.isUnderWay(id));
    // A lamp or a buzzer goes out whenever its alarm stops; people are told only that it is over.
    const isTold = (route: string, target: string): boolean =>
      reached.some((entry) => entry.route === route && entry.target === target) && (stop.over || senders().get(route)?.kind === 'mqtt');
    const routes = [...new Set(reached.map(({ route }) => route))];
    const what = overDraft(stop, letterhead(nowMs));
    const quiet = withdrawn(next, stop.alarmId, nowMs, stop.reason);
    return dispatch.entriesFor(routes, what, `${what.eventId}/over ${nowMs}`, nowMs, isTold).reduce(added, quiet);
  }

  /** What waits about an alarm that still calls gets the words of now before it goes, and does not expire. Until a step has looked, no alarm goes. */
  function renewed(next: Outbox, entry: OutboxEntry, time: EngineTime): Outbox | null {
    const { kind, alarmId, occurrence, issuedMs } = entry.notice;
    if (kind !== 'alarm' || alarmId === null) return next;
    if (!alarms) return null;
    const alarm = alarms.get(alarmId);
    if (!alarm || occurrence === null || !isLoud(alarm) || alarm.occurrence !== occurrence) return next;
    const isStale = entry.notice.expiresMs - time.wallMs < RENEW_MS || alarm.text !== entry.notice.text.slice(-alarm.text.length);
    if (!isStale) return next;
    const words = wordsOf(alarm, alarm.chattering ? 'flaps' : 'again', time.wallMs - issuedMs);
    return refreshed(next, alarm.id, occurrence, { ...words, expiresMs: expiryMs(alarm.priority, options.eventMs(alarm.id), time.wallMs) });
  }

  function hasReached(alarmId: string, fromOccurrence: number): boolean {
    return dispatch
      .outbox()
      .some(
        ({ notice, state, route }) =>
          state === 'delivered' &&
          notice.kind === 'alarm' &&
          notice.alarmId === alarmId &&
          (notice.occurrence ?? 0) >= fromOccurrence &&
          senders().get(route)?.remote === true,
      );
  }

  /** Plans who is called now; the outbox with their notices. */
  function planned(time: EngineTime, views: readonly Alarm[]): Outbox {
    const { callOut, routes } = file();
    const there = present();
    const inputs = {
      alarms: views,
      callOut,
      // A route that the file names and nobody can send by yet is called once it is there.
      routes: Object.fromEntries(Object.entries(routes).filter(([name]) => senders().has(name))),
      remote: there.flatMap(({ name, remote }) => (remote ? [name] : [])),
      routesOf: options.routesOf,
      hasReached,
      timeZone: options.timeZone(),
    };
    const { plan: after, tell, stop } = stepPlan(plan, inputs, time);
    plan = after;
    let next = dispatch.outbox();
    for (const one of stop) next = stopped(next, one, time.wallMs);
    for (const one of tell) next = told(next, one, time.wallMs);
    for (const entry of next) {
      if (entry.state === 'waiting' && entry.notice.expiresMs - time.wallMs < RENEW_MS) next = renewed(next, entry, time) ?? next;
    }
    return next;
  }

  function onResult(entry: OutboxEntry, result: SendResult, nowMs: EpochMs): void {
    const route = present().find(({ name }) => name === entry.route);
    if (route) reachKeeper.change((state) => delivered(state, route, entry.target, result, nowMs));
    if (result.kind === 'gone') tellGone(entry, result.reason, nowMs);
  }

  /** A device that takes no messages any more is told of by the other ways. */
  function tellGone({ route, target, targetName }: OutboxEntry, reason: string, nowMs: EpochMs): void {
    const { quietHours, medium } = file().callOut;
    const atNight = isWithin(quietHours, options.timeZone(), nowMs) ? (medium.atNight ?? []) : [];
    const what = draft(
      {
        eventId: `gone-${route}-${target}`.slice(0, 100),
        kind: 'check',
        priority: 'medium',
        title: 'A device gets no alarms any more',
        text: `${targetName || route} takes no messages any more${reason === '' ? '' : ` (${reason})`}. Open Dawnhold on it and subscribe it anew.`,
        expiresMs: nowMs + 86_400_000,
      },
      letterhead(nowMs),
    );
    const isMeant = (otherRoute: string, otherTarget: string): boolean => otherRoute !== route || otherTarget !== target;
    dispatch.post(atNight.length > 0 ? atNight : medium.first, what, { isMeant });
  }

  return {
    onAlarms(views, time) {
      alarms = new Map(views.map((alarm) => [alarm.id, alarm]));
      lookedMonoMs = time.monoMs;
      const { calls } = plan;
      const next = planned(time, views);
      const ended = expired(next, time.wallMs);
      const lines = ended.flatMap((entry) => (entry.state === 'expired' && !next.includes(entry) ? [dispatch.line(entry, 'expired', time.wallMs)] : []));
      const { documents, kept } = dispatch.take(ended, time.wallMs);
      const isAging = Object.values(plan.calls).some(({ isOpen }) => isOpen) && time.monoMs - planKeptMonoMs >= PLAN_KEPT_MS;
      if (plan.calls === calls && documents.length === 0 && !isAging) return { documents: [], kept };
      planKeptMonoMs = time.monoMs;
      return { documents: [planDocument(time.wallMs), ...documents, ...lines], kept };
    },
    tick() {
      if (closing.signal.aborted) return;
      dispatch.pump();
      reachKeeper.tick();
      rounds.tick(clock.now().wallMs);
    },
    tryRoutes(route) {
      const names = route === null ? [...senders().keys()] : [route];
      if (names.some((name) => !senders().has(name))) return 'the rig file names no such route';
      if (names.every((name) => senders().get(name)?.targets().length === 0)) return 'nobody is there to take it';
      const { wallMs } = clock.now();
      const text = 'This is a test. An alarm would have come the same way.';
      dispatch.post(
        names,
        draft({ eventId: `test-${wallMs}`, kind: 'test', priority: 'high', title: 'Test', text, expiresMs: wallMs + 600_000 }, letterhead(wallMs)),
      );
      return '';
    },
    received({ noticeId }) {
      const { wallMs } = clock.now();
      const entry = dispatch.outbox().find(({ notice }) => notice.noticeId === noticeId);
      if (!entry) return false;
      if (entry.receivedMs !== null) return true;
      const { documents } = dispatch.take(received(dispatch.outbox(), noticeId, wallMs), wallMs);
      void keep([...documents, dispatch.line(entry, 'received', wallMs)]);
      reachKeeper.change((state) => confirmed(state, entry.route, wallMs));
      return true;
    },
    tabletIs: reachKeeper.tabletIs,
    reach: reachKeeper.view,
    sounds(alarmId) {
      const call = Object.hasOwn(plan.calls, alarmId) ? plan.calls[alarmId] : undefined;
      return call?.isOpen === true && call.told.some((route) => senders().get(route)?.kind === 'tablet');
    },
    failingRoutes: () =>
      reachKeeper
        .view()
        .routes.filter(({ kind, state }) => kind !== 'tablet' && state === 'fails')
        .map(({ name }) => name),
    async close() {
      closing.abort();
      await Promise.all([dispatch.idle(), reachKeeper.idle(), rounds.idle()]);
    },
  };
}

/** The outbox after a restart: where one of the clocks cannot be trusted, nobody knows how long it was away, and nothing expires or waits by it. */
const asOf = (now: EngineTime, { plan, outbox }: Notified): Outbox => (plan.keptAt.clockSure && now.clockSure ? outbox : awoken(outbox, now.wallMs));
