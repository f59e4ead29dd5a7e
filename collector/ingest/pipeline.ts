import type { SensorsReport } from '../../shared/schema/api.ts';
import type { SignalInfo, SignalState } from '../../shared/schema/live.ts';
import { type Forecast, type Message, type Quality, type Reading, type RejectReason, SUSPECT_REASONS } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { FORECAST } from '../../shared/signals.ts';
import { decodeOpened } from '../mqtt/decode.ts';
import { openPayload } from '../mqtt/payload.ts';
import { BankWatch } from './bank-watch.ts';
import { type Channel, freshnessOf, makeChannels, type Part } from './channel.ts';
import { HealthCounters, SignalCounters } from './counters.ts';
import { decodeForecast } from './forecast.ts';
import { judge, spreadTaint, type Verdict } from './judge.ts';
import { SignWatch } from './sign.ts';
import { makeTaker } from './take.ts';
import { UnmappedTopics } from './unmapped.ts';
import { infoOf, reportOf, stateOf } from './views.ts';

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
  readonly parts: Part[];
  forecastPointer: string | undefined;
  isForecast: boolean;
}

const NOTHING: Accepted = { readings: [], forecast: null };

/** Topic text stands only as a key of a Map, so no name can reach an object's prototype, and no two topics are taken for one. */
function makeRoutes(file: RigFile, channels: ReadonlyMap<string, Channel>): ReadonlyMap<string, Route> {
  const routes = new Map<string, Route>();
  const routeOf = (topic: string): Route => {
    const known = routes.get(topic);
    if (known) return known;
    const route: Route = { parts: [], forecastPointer: undefined, isForecast: false };
    routes.set(topic, route);
    return route;
  };
  for (const channel of channels.values()) for (const part of channel.parts) routeOf(part.compiled.source.topic).parts.push(part);
  const { forecast } = file.signals;
  if (forecast !== null) Object.assign(routeOf(forecast.topic), { isForecast: true, forecastPointer: forecast.pointer });
  return routes;
}

/** The collector's pipeline for a rig file. */
export function createPipeline(file: RigFile): Pipeline {
  let channels = makeChannels(file, new Map());
  let routes = makeRoutes(file, channels);
  let mapsForecast = file.signals.forecast !== null;
  let bank = new BankWatch(file, channels, new SignWatch());
  const unmapped = new UnmappedTopics();
  const health = new HealthCounters();
  const forecasts = new SignalCounters();
  let take = makeTaker(file.rig.id, bank, 0);

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
      const readings: Reading[] = [];
      for (const verdict of verdictsOf(route, message)) {
        if (verdict.reason === null) take.value(verdict, message, readings);
        else {
          reject(verdict.part.channel.counters, verdict.reason, message);
          take.rejection(verdict, message);
        }
      }
      bank.pair();
      health.readings += readings.length;
      return { readings, forecast: route.isForecast ? readForecast(route, message) : null };
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
    report() {
      const signals = [...channels.values()].map((channel) => reportOf(channel, bank.sign.isInverted));
      if (mapsForecast) signals.push({ name: FORECAST, ...forecasts.report(), note: '', skewMs: null });
      return { signals, ...unmapped.report() };
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
      for (const { counters } of channels.values()) counters.reset();
    },

    replaceFile(next) {
      const sameCurrent = JSON.stringify(channels.get('bank.current')?.spec) === JSON.stringify(next.signals.specs.get('bank.current'));
      channels = makeChannels(next, channels);
      routes = makeRoutes(next, channels);
      mapsForecast = next.signals.forecast !== null;
      // A current that is read in another way has its sign to prove anew.
      bank = new BankWatch(next, channels, sameCurrent ? bank.sign : new SignWatch());
      take = makeTaker(next.rig.id, bank, take.nextSeq());
      unmapped.forget(routes.keys());
    },
  };
}
