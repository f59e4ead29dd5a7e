import { NOT_AFTER_MS, NOT_BEFORE_MS } from '../../shared/not-before.ts';
import type { SensorsReport } from '../../shared/schema/api.ts';
import type { SignalInfo, SignalState } from '../../shared/schema/live.ts';
import { type Forecast, type Message, type Quality, type Reading, type RejectReason, SUSPECT_REASONS } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { MappingQuestion, MappingTrial, TopicView } from '../../shared/schema/sensor-book.ts';
import { FORECAST } from '../../shared/signals.ts';
import { nothingHeard, type Remembered, remember } from '../mapping/remembered.ts';
import { topicView } from '../mapping/topic-view.ts';
import { tryMapping } from '../mapping/trial.ts';
import { decodeOpened } from '../mqtt/decode.ts';
import { openPayload } from '../mqtt/payload.ts';
import { printable } from '../mqtt/printable.ts';
import { BankWatch } from './bank-watch.ts';
import { boardsOf } from './boards.ts';
import { type Channel, freshnessOf, makeChannels, type Part } from './channel.ts';
import { HealthCounters, SignalCounters } from './counters.ts';
import { decodeForecast } from './forecast.ts';
import { judge, spreadTaint, type Verdict } from './judge.ts';
import { SignWatch } from './sign.ts';
import { makeTaker } from './take.ts';
import { UnmappedTopics } from './unmapped.ts';
import { infoOf, reportOf, SHOWN_TOPIC, stateOf } from './views.ts';
import { type ZeroFacts, zeroFacts } from './zero-facts.ts';

/** The newest value of a signal. */
export interface LatestSignal {
  readonly value: number;
  readonly tMs: number;
  readonly quality: Quality;
  readonly reason?: string;
  readonly freshness: SignalState['freshness'];
}

/** What one message gave. */
export interface Accepted {
  readonly readings: readonly Reading[];
  readonly forecast: Forecast | null;
  /** What time it is, epoch ms, by a board that knows; null when the message is of none. */
  readonly clockMs: number | null;
}

/** From messages to readings, with all that is remembered between them. Synchronous; time comes only from the messages and the caller. */
export interface Pipeline {
  /** Takes one message; cannot throw. Readings are `ok` or `suspect`, in order of arrival; what is rejected is counted. */
  accept(message: Message): Accepted;
  /** The newest value of every signal that has one; freshness at `nowMs`, left out: at the last message. */
  latest(nowMs?: number): ReadonlyMap<string, LatestSignal>;
  /** Signals of the rig file, in its order; `index` is the position. */
  infos(): SignalInfo[];
  states(nowMs: number): SignalState[];
  report(nowMs: number): SensorsReport;
  /** The last message of a topic, named as the screens show it or by its exact text; null when none was heard. */
  topic(topic: string): TopicView | null;
  /** What a mapping would give for the last message of its topic; changes nothing. */
  tryMapping(question: MappingQuestion): MappingTrial;
  /** What a signal that should read nothing has read since `fromMs`; null when the rig file names no such signal. */
  zero(signal: string, fromMs: number, nowMs: number): ZeroFacts | null;
  /** Totals since the start. */
  health(): Readonly<Pick<HealthCounters, 'messages' | 'readings' | 'rejected' | 'lastMessageMs' | 'rejectedByReason'>>;
  /** Shows stored readings as last known, with their own times, where nothing has come yet. They are no sign of life. */
  recall(readings: readonly Reading[]): void;
  /** Counts messages, readings and rejections from here on; what was made up for before it is no news. */
  countAnew(): void;
  /** Puts another rig file in force; counters go on, values too where a signal is read as before. */
  replaceFile(file: RigFile): void;
}

/** A topic with the parts of signals that read it. */
interface Route {
  readonly last: Remembered;
  readonly parts: Part[];
  forecastPointer: string | undefined;
  isForecast: boolean;
}

const NOTHING: Accepted = { readings: [], forecast: null, clockMs: null };

/** Topic text stands only as a key of a Map, so no name can reach an object's prototype, and no two topics are taken for one. */
function makeRoutes(file: RigFile, channels: ReadonlyMap<string, Channel>, heard: (topic: string) => Remembered | null): ReadonlyMap<string, Route> {
  const routes = new Map<string, Route>();
  const routeOf = (topic: string): Route => {
    const known = routes.get(topic);
    if (known) return known;
    const route: Route = { last: heard(topic) ?? nothingHeard(), parts: [], forecastPointer: undefined, isForecast: false };
    routes.set(topic, route);
    return route;
  };
  for (const channel of channels.values()) for (const part of channel.parts) routeOf(part.compiled.source.topic).parts.push(part);
  const { forecast } = file.signals;
  if (forecast !== null) Object.assign(routeOf(forecast.topic), { isForecast: true, forecastPointer: forecast.pointer });
  return routes;
}

/** A receiver without a fix counts from a time of its own, or is whole rounds of its weeks off. */
function clockIn(verdicts: readonly Verdict[]): number | null {
  for (const { part, decoded, reason } of verdicts) {
    if (!part.compiled.source.setsClock || reason !== null) continue;
    const clockMs = decoded?.clockMs ?? null;
    if (clockMs !== null && clockMs >= NOT_BEFORE_MS && clockMs < NOT_AFTER_MS) return clockMs;
  }
  return null;
}

/** The collector's pipeline for a rig file. */
export function createPipeline(file: RigFile): Pipeline {
  let channels = makeChannels(file, new Map());
  let routes = makeRoutes(file, channels, () => null);
  let inForce = file;
  let bank = new BankWatch(file, channels, new SignWatch());
  const unmapped = new UnmappedTopics();
  const health = new HealthCounters();
  const forecasts = new SignalCounters();
  let take = makeTaker(file.rig.id, bank, 0);

  /** The exact topic that is meant, and what is remembered of it. A text may be one topic's and show as another's: what is shown counts. */
  const find = (asked: string): [string, Remembered] | null => {
    const all = new Map<string, Remembered>([...unmapped.all(), ...[...routes].map(([topic, { last }]): [string, Remembered] => [topic, last])]);
    const exact = [...all.keys()].find((topic) => printable(topic, SHOWN_TOPIC) === asked) ?? asked;
    const last = all.get(exact);
    return last === undefined || last.count === 0 ? null : [exact, last];
  };

  const boards = (nowMs: number) => {
    const read = [...routes].map(([topic, { parts, last }]) => {
      const signals = [...new Set(parts.map(({ channel }) => channel))];
      return { topic, last, signals: signals.map((channel) => ({ name: channel.name, isFresh: freshnessOf(channel, nowMs) === 'fresh' })) };
    });
    return boardsOf(
      read.filter(({ signals }) => signals.length > 0),
      unmapped.all(),
    );
  };

  const reject = (counters: SignalCounters, reason: RejectReason, message: Message): void => {
    health.reject(reason);
    counters.reject(reason, Math.round(message.tMs), message.payload);
  };

  const readForecast = (route: Route, message: Message): Forecast | null => {
    const found = decodeForecast(message, route.forecastPointer);
    if (typeof found !== 'string') {
      forecasts.received++;
      return found;
    }
    reject(forecasts, found, message);
    return null;
  };

  const verdictsOf = (route: Route, message: Message): Verdict[] => {
    const opened = openPayload(message.payload);
    const verdicts: Verdict[] = [];
    for (const part of route.parts) {
      const decoded = decodeOpened(opened, part.compiled, message.tMs);
      if (!('length' in decoded)) verdicts.push(judge(part, decoded, message));
      else for (const one of decoded) verdicts.push(judge(part, one, message));
    }
    if (verdicts.length > 1) spreadTaint(verdicts);
    return verdicts;
  };

  return {
    accept(message) {
      health.messages++;
      health.lastMessageMs = Math.round(message.tMs);
      const route = routes.get(message.topic);
      if (route === undefined) {
        unmapped.take(message);
        return NOTHING;
      }
      remember(route.last, message);
      const readings: Reading[] = [];
      const verdicts = verdictsOf(route, message);
      for (const verdict of verdicts) {
        if (verdict.reason === null) take.value(verdict, message, readings);
        else {
          reject(verdict.part.channel.counters, verdict.reason, message);
          take.rejection(verdict, message);
        }
      }
      bank.pair();
      health.readings += readings.length;
      return { readings, forecast: route.isForecast ? readForecast(route, message) : null, clockMs: message.retained ? null : clockIn(verdicts) };
    },

    latest(nowMs = health.lastMessageMs ?? 0) {
      const latest = new Map<string, LatestSignal>();
      for (const channel of channels.values()) {
        const { name, value, tMs, quality, reason } = channel;
        if (value === null || tMs === null) continue;
        latest.set(name, { value, tMs, quality, ...(reason === null ? {} : { reason }), freshness: freshnessOf(channel, nowMs) });
      }
      return latest;
    },

    infos: () => [...channels.values()].map(infoOf),
    states: (nowMs) => [...channels.values()].map((channel) => stateOf(channel, nowMs)),
    report(nowMs) {
      const signals = [...channels.values()].map((channel) => reportOf(channel, bank.sign.isInverted));
      if (inForce.signals.forecast !== null) signals.push({ name: FORECAST, ...forecasts.report(), note: '', skewMs: null });
      return { signals, ...unmapped.report(), boards: boards(nowMs) };
    },
    topic(asked) {
      const found = find(asked);
      if (found === null) return null;
      const readers = (routes.get(found[0])?.parts ?? []).map(({ channel, compiled }) => ({ signal: channel.name, source: compiled.source }));
      return topicView(...found, { cells: inForce.bank.cells, mapped: new Set(channels.keys()), readers });
    },
    tryMapping: (question) => tryMapping(question, inForce, (topic) => find(topic)?.[1] ?? null),
    zero(signal, fromMs, nowMs) {
      const channel = channels.get(signal);
      return channel === undefined ? null : zeroFacts(channel, fromMs, nowMs);
    },
    health: () => health,

    recall(readings) {
      for (const { signal, value, tMs, quality, reason } of readings) {
        const channel = channels.get(signal);
        if (channel === undefined || channel.value !== null) continue;
        Object.assign(channel, { value, tMs, quality, reason: SUSPECT_REASONS.find((known) => known === reason) ?? null });
      }
    },

    countAnew() {
      health.reset();
      forecasts.reset();
      unmapped.reset();
      for (const { last } of routes.values()) Object.assign(last, nothingHeard());
      for (const { counters } of channels.values()) counters.reset();
    },

    replaceFile(next) {
      const sameCurrent = JSON.stringify(channels.get('bank.current')?.spec) === JSON.stringify(next.signals.specs.get('bank.current'));
      channels = makeChannels(next, channels);
      const before = routes;
      routes = makeRoutes(next, channels, (topic) => before.get(topic)?.last ?? unmapped.give(topic));
      for (const [topic, { last }] of before) if (!routes.has(topic)) unmapped.put(topic, last);
      inForce = next;
      // A current that is read in another way has its sign to prove anew.
      bank = new BankWatch(next, channels, sameCurrent ? bank.sign : new SignWatch());
      take = makeTaker(next.rig.id, bank, take.nextSeq());
    },
  };
}
