import { z } from 'zod';
import { reasonOf } from '../../shared/errors.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { DocumentStore, Sender, SendResult } from '../../shared/ports.ts';
import { type Alarm, PRIORITIES, Priority } from '../../shared/schema/alarm.ts';
import type { Notice } from '../../shared/schema/notice.ts';
import type { RouteLog } from './made-secret.ts';
import { attempt, later, sent } from './outcome.ts';

const KIND = 'mqtt-route';
/** A broker that takes longer than this is as good as none, ms. */
const LIMIT_MS = 5000;
/** So long a test lights the lamp, ms. */
const TEST_MS = 10_000;

const Sounding = z.strictObject({ alarm: z.string(), priority: Priority, title: z.string(), text: z.string(), since: z.string() });
/** What stands on the topic: the alarm that sounds, the most urgent and then the newest of several. `since`: ISO 8601. */
type Sounding = z.infer<typeof Sounding>;

export interface MqttOptions {
  /** Name of the route. */
  readonly name: string;
  readonly topic: string;
  publish(topic: string, payload: string, options: { readonly retain: boolean }): Promise<void>;
  readonly store: DocumentStore;
  readonly log: RouteLog;
  readonly limitMs?: number;
  readonly testMs?: number;
}

/**
 * A lamp or a buzzer on a topic of the rig's broker. It shows a state, so it is no matter of messages that come once: what sounds stands
 * there retained, and is taken back when nothing does. A notice adds to what sounds; the alarms themselves, as they are after every
 * change, take away from it (somebody acknowledged, shelved it, or it returned).
 */
export interface MqttSender extends Sender {
  /** The alarms as they are now. What does not sound any more is taken back. */
  alarmsAre(alarms: readonly Alarm[]): void;
  /** The broker is there again, perhaps without what it retained: shows the state anew. */
  brokerIsBack(): void;
  /** The route is no more: takes back what it shows, and closes. */
  retire(): Promise<void>;
}

/** Opens the route with what sounded when it was last closed, kept in the store. */
export async function openMqttSender(options: MqttOptions): Promise<MqttSender> {
  const { name, topic, publish, store, log, limitMs = LIMIT_MS, testMs = TEST_MS } = options;
  const sounding = new Map((await storedIn(store, name)).map((one) => [one.alarm, one]));
  const turns = new OneAtATime();
  let test: NodeJS.Timeout | null = null;

  const loudest = (): Sounding | undefined =>
    [...sounding.values()].sort((a, b) => PRIORITIES.indexOf(b.priority) - PRIORITIES.indexOf(a.priority) || b.since.localeCompare(a.since))[0];

  /** Publishes one after the other, so that the newest state is the last to arrive. */
  const put = (payload: () => string, given: AbortSignal): Promise<SendResult> =>
    attempt('the broker', limitMs, given, (signal) =>
      turns.take(async () => {
        const gaveUp = new Promise<never>((_, reject) => signal.addEventListener('abort', () => reject(signal.reason), { once: true }));
        try {
          await Promise.race([publish(topic, payload(), { retain: true }), gaveUp]);
          return sent('shown on the topic');
        } catch (error) {
          return later(signal.aborted ? 'the broker did not answer in time' : `not published: ${reasonOf(error)}`);
        }
      }),
    );
  const show = (signal: AbortSignal): Promise<SendResult> =>
    put(() => {
      const now = loudest();
      return now === undefined ? '' : JSON.stringify(now);
    }, signal);
  const showSoon = (): void => void show(new AbortController().signal);

  let kept: Promise<void> = Promise.resolve();
  /** Kept, so that after a restart the lamp is neither put out too early nor left on. A store that fails or hangs holds nothing up. */
  const keep = (): void => {
    kept = store
      .put([{ kind: KIND, id: name, tMs: 0, body: JSON.stringify([...sounding.values()]) }])
      .catch((error: unknown) => log.warn(`what sounds by the route ${name} was not kept: ${reasonOf(error)}`));
  };

  function take({ kind, alarmId, priority, title, text, issuedMs }: Notice): void {
    if (alarmId === null) return;
    if (kind === 'returned') sounding.delete(alarmId);
    if (kind === 'alarm') sounding.set(alarmId, { alarm: alarmId, priority, title, text, since: new Date(issuedMs).toISOString() });
  }

  const settle = (): void => {
    if (test !== null) clearTimeout(test);
    test = null;
  };

  return {
    kind: 'mqtt',
    remote: false,
    targets: () => [{ id: '', name: topic.slice(0, 64) }],

    async send(notice, _, signal) {
      if (notice.kind === 'test') {
        settle();
        const { priority, title, text, issuedMs } = notice;
        test = setTimeout(showSoon, testMs);
        return put(() => JSON.stringify({ alarm: 'test', priority, title, text, since: new Date(issuedMs).toISOString() }), signal);
      }
      take(notice);
      keep();
      return show(signal);
    },

    probe: show,

    alarmsAre(alarms) {
      const still = new Set(alarms.filter(({ lifecycle, suppression }) => lifecycle === 'unacknowledged' && suppression === 'none').map(({ id }) => id));
      const over = [...sounding.keys()].filter((id) => !still.has(id));
      if (over.length === 0) return;
      for (const id of over) sounding.delete(id);
      keep();
      showSoon();
    },

    brokerIsBack: showSoon,

    async retire() {
      settle();
      await put(() => '', new AbortController().signal);
    },

    /** What it shows stays: a restart is no all-clear. */
    async close() {
      settle();
      await turns.take(() => kept);
    },
  };
}

async function storedIn(store: DocumentStore, name: string): Promise<Sounding[]> {
  try {
    return z.array(Sounding).parse(JSON.parse((await store.get(KIND, name)) ?? '[]'));
  } catch (error) {
    if (error instanceof SyntaxError || error instanceof z.ZodError) return [];
    throw error;
  }
}
