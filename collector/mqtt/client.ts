import { randomBytes } from 'node:crypto';
import { setTimeout as passed } from 'node:timers/promises';
import { connect, type IClientOptions, type MqttClient } from 'mqtt';
import { reasonOf } from '../../shared/errors.ts';
import { backoffMs } from './backoff.ts';
import { brokerFault } from './broker-fault.ts';
import { type BrokerSecrets, deliver, type MessageSource, type SourceHandlers } from './source.ts';

export interface BrokerClientOptions {
  /** `mqtt://`, `mqtts://`, `ws://` or `wss://`, without credentials. */
  readonly url: string;
  /** 4: MQTT 3.1.1. 5: MQTT 5. */
  readonly protocol: 4 | 5;
  /** Certificate authority of an mqtts broker, PEM; null: those the system trusts. */
  readonly ca: string | null;
  readonly secrets: BrokerSecrets | null;
  /** Null: one of our own making. */
  readonly clientId: string | null;
  readonly qos: 0 | 1;
  /** The topics that signals use. */
  readonly topics: readonly string[];
  /** Hear every topic, not only those. */
  readonly discover: boolean;
  /** Group of clients of which each message goes to one (MQTT 5); null or left out: every message comes here. */
  readonly share?: string | null;
  /** Without any message for so long a new client is made, ms; default 5 min. */
  readonly silenceMs?: number;
  /** Keep-alive, s; default 30. A broker that does not answer is left after one and a half of it. */
  readonly keepaliveS?: number;
  /** A number from 0 to 1 for the jitter of retries; default by chance. */
  readonly random?: () => number;
}

const CONNECT_TIMEOUT_MS = 10_000;
const SILENCE_MS = 300_000;
/** A connection that the broker ends sooner than this, twice in a row, was most likely taken over by another client with the same id. */
const SHORT_LIVED_MS = 30_000;
/** MQTT 5 reason code: session taken over. */
const TAKEN_OVER = 0x8e;
/** From here on a granted quality of service means refused. */
const REFUSED = 0x80;

const suffix = (): string => randomBytes(4).toString('hex');

/** Holds back what is written until all that has been read is handled: the library answers each packet by a write of its own. */
function inOneWrite(stream: MqttClient['stream']): void {
  if (stream.writableCorked > 0) return;
  stream.cork();
  setImmediate(() => stream.uncork());
}

/** One set of filters, none inside another: overlapping ones bring messages twice with some brokers. `#` does not cover topics that begin with `$`. */
export function filtersOf(topics: readonly string[], discover: boolean): readonly string[] {
  const unique = [...new Set(topics)];
  return discover ? ['#', ...unique.filter((topic) => topic.startsWith('$'))] : unique;
}

/** The filters by which a group shares the messages of its topics. @source MQTT 5.0, section 4.8.2 */
export const sharedFilters = (topics: readonly string[], group: string): readonly string[] => [...new Set(topics)].map((topic) => `$share/${group}/${topic}`);

/** Without a message for so long, a client that leaves its group has all that was meant for it, ms; and longest time to leave. */
const LEFT_QUIET_MS = 500;
const LEAVE_LIMIT_MS = 4000;

/**
 * A client of an outside broker that outlives it: absent at the start, refusing, restarted, silent or gone dead, it is tried again until `stop`.
 * Every attempt is a new client with a session of its own, so no state of an old one can stick; it subscribes each time it connects.
 */
export function createBrokerClient(options: BrokerClientOptions): MessageSource {
  const { secrets, qos, silenceMs = SILENCE_MS, random = Math.random } = options;
  let clientId = options.clientId ?? `dawnhold-${suffix()}`;
  let handlers: SourceHandlers | null = null;
  let client: MqttClient | null = null;
  let timer: NodeJS.Timeout | null = null;
  let failures = 0;
  let shortLived = 0;
  /** Whether `#` is asked for; a broker may refuse it. */
  let discover = options.discover && !options.share;
  let leaving = false;
  let heardMs = 0;

  const wait = (delayMs: number, action: () => void): void => {
    if (timer !== null) clearTimeout(timer);
    timer = setTimeout(action, delayMs);
  };

  const clientOptions = (): IClientOptions => ({
    clientId,
    protocolVersion: options.protocol,
    clean: true,
    keepalive: options.keepaliveS ?? 30,
    connectTimeout: CONNECT_TIMEOUT_MS,
    reconnectPeriod: 0,
    resubscribe: false,
    queueQoSZero: false,
    // Its own words about every packet, which nobody reads, would cost a part of each.
    log: () => undefined,
    // A buffer held for each of 65,536 message numbers, some 9 MB, to save making one of two bytes.
    writeCache: false,
    ...(options.ca === null ? {} : { ca: options.ca }),
    ...(secrets === null ? {} : { username: secrets.user, password: secrets.password }),
  });

  const retry = (reason: string): void => {
    if (handlers === null || leaving) return;
    handlers.onStatus('lost', reason);
    wait(backoffMs(failures++, random()), attempt);
  };

  /** Leaves the present client for good and tries anew. */
  const abandon = (reason: string): void => {
    const old = client;
    client = null;
    old?.removeAllListeners();
    // A late error of a client that nobody listens to any more would end the process.
    old?.on('error', () => undefined);
    old?.end(true);
    retry(reason);
  };

  const filtersNow = () => (options.share ? sharedFilters(options.topics, options.share) : filtersOf(options.topics, discover));

  const subscribe = (one: MqttClient): void => {
    const filters = filtersNow();
    one.subscribe([...filters], { qos }, (error, granted) => {
      if (client !== one) return;
      const refused = error !== null || (granted ?? []).some((grant) => grant.qos >= REFUSED);
      if (!refused) {
        failures = 0;
        handlers?.onStatus('connected', discover ? 'all topics' : `${filters.length} topics`);
        watch();
      } else if (discover && options.topics.length > 0) {
        discover = false;
        subscribe(one);
      } else abandon(`the broker refuses the subscription${error === null ? '' : `: ${reasonOf(error)}`}`);
    });
  };

  const watch = (): void => wait(silenceMs, () => abandon(`no message for ${Math.round(silenceMs / 1000)} s`));

  function attempt(): void {
    if (handlers === null) return;
    handlers.onStatus('connecting', options.url);
    let connectedMs: number | null = null;
    let takenOver = false;
    let one: MqttClient;
    try {
      one = connect(options.url, clientOptions());
    } catch (error) {
      retry(reasonOf(error));
      return;
    }
    client = one;
    // The library's own deadlines do not cover every phase.
    wait(CONNECT_TIMEOUT_MS * 2, () => abandon(`the broker at ${new URL(options.url).host} does not answer; see that it is an MQTT broker`));
    one.on('connect', () => {
      connectedMs = performance.now();
      subscribe(one);
    });
    one.on('packetreceive', () => inOneWrite(one.stream));
    // The library's own hook for a reader that may be slower than the broker: it reads on, and acknowledges, only when `done` is called.
    one.handleMessage = ({ topic, payload, retain }, done) => {
      if (handlers === null || client !== one) return done();
      timer?.refresh();
      heardMs = performance.now();
      deliver(handlers, { topic, payload: payload as Buffer, retained: retain });
      const room = handlers.room?.() ?? null;
      if (room === null) done();
      else void room.then(() => done());
    };
    // Some errors, such as bytes that are no MQTT, are followed by no `close`.
    one.on('error', (error) => {
      if (client === one) abandon(brokerFault(error, options.url));
    });
    one.on('disconnect', (packet) => {
      takenOver = packet.reasonCode === TAKEN_OVER;
    });
    one.on('close', () => {
      if (client !== one) return;
      shortLived = connectedMs !== null && performance.now() - connectedMs < SHORT_LIVED_MS ? shortLived + 1 : 0;
      if (!takenOver && shortLived < 2) {
        abandon('the broker closed the connection');
        return;
      }
      const id = clientId;
      clientId = `${options.clientId ?? 'dawnhold'}-${suffix()}`;
      shortLived = 0;
      abandon(`another client uses the id ${id}; going on as ${clientId}`);
    });
  }

  /** Gives up its share and takes what the broker had already set apart for it, which no other of the group would get. */
  async function leaveGroup(): Promise<void> {
    leaving = true;
    if (!client?.connected) return;
    const untilMs = performance.now() + LEAVE_LIMIT_MS;
    const asked = client.unsubscribeAsync([...filtersNow()]).catch(() => undefined);
    await Promise.race([asked, passed(LEAVE_LIMIT_MS, undefined, { ref: false })]);
    heardMs = Math.max(heardMs, performance.now());
    for (let now = heardMs; now < untilMs && now - heardMs < LEFT_QUIET_MS; now = performance.now()) await passed(LEFT_QUIET_MS / 10);
  }

  return {
    async start(given) {
      handlers = given;
      leaving = false;
      attempt();
    },
    async stop() {
      if (options.share) await leaveGroup();
      handlers = null;
      if (timer !== null) clearTimeout(timer);
      const last = client;
      client = null;
      last?.removeAllListeners();
      last?.on('error', () => undefined);
      if (last !== null) await new Promise<void>((resolve) => last.end(true, () => resolve()));
    },
    async publish(topic, payload, { retain }) {
      if (!client?.connected) throw new Error('the broker is not connected');
      await client.publishAsync(topic, payload, { qos: 0, retain });
    },
  };
}
