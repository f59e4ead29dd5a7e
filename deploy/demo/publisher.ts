import { connectAsync } from 'mqtt';
import type { DemoMessage, SimulatedRig } from './rig.ts';

export interface DemoPublisherOptions {
  /** The broker, as mqtt://127.0.0.1:1883. */
  readonly url: string;
  readonly rig: SimulatedRig;
  /** The rig's clock, epoch ms; it may run faster than the wall's. */
  readonly now: () => number;
  /** How much faster it runs, 1 or more; default 1. */
  readonly pace?: number;
}

export interface DemoPublisher {
  /** Stops the rig's life and leaves the broker. */
  stop(): Promise<void>;
}

const WAKE_MS = 250;
/** A message that could not be sent within this much of the wall's time is lost, as on a board without a memory. */
const PATIENCE_MS = 5_000;
/** After a pause the rig catches up by at most this much of its own time a wake, so that nothing else has to wait for it. */
const CATCH_UP_MS = 6 * 3_600_000;

/**
 * Lets a simulated rig live by a clock and publishes what its boards send (MQTT 3.1.1, QoS 0). What a pause, a lost broker or a jump
 * of the clock made late is lost and not sent in a burst. Rejects when the broker cannot be reached at the start; later it reconnects by itself.
 */
export async function startDemoPublisher(options: DemoPublisherOptions): Promise<DemoPublisher> {
  const { url, rig, now, pace = 1 } = options;
  const client = await connectAsync(url, { protocolVersion: 4, queueQoSZero: false, reconnectPeriod: 1_000, connectTimeout: 5_000 }, false);
  // A broker that goes away is reported as an error; reconnecting is the answer to it.
  client.on('error', () => {});
  let waiting: DemoMessage[] = [];

  // The callback takes the error of a connection that broke just now: at QoS 0 the message is simply lost.
  const publish = ({ topic, payload }: DemoMessage) => client.publish(topic, payload, { qos: 0 }, () => {});

  function wake(): void {
    const nowMs = now();
    rig.advance(Math.min(nowMs, rig.tMs + CATCH_UP_MS), (message) => {
      if (message.tMs > nowMs - PATIENCE_MS * pace) waiting.push(message);
    });
    const due = waiting.filter((message) => message.tMs <= nowMs);
    waiting = waiting.filter((message) => message.tMs > nowMs);
    if (!client.connected) return;
    due.forEach(publish);
  }

  // Boards that reach their broker say at once what they read; the next step may be ten seconds away.
  rig.next().forEach(publish);
  const timer = setInterval(wake, WAKE_MS);
  return {
    async stop() {
      clearInterval(timer);
      await client.endAsync();
    },
  };
}
