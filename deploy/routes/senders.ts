import { isAbsolute, join } from 'node:path';
import { reasonOf } from '../../shared/errors.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { DocumentStore, Sender, SendResult } from '../../shared/ports.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { Route } from '../../shared/schema/routes.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Credentials } from '../environment.ts';
import { createAddressGuard, type Resolve } from './address-guard.ts';
import { createHeartbeat } from './heartbeat.ts';
import type { RouteLog } from './made-secret.ts';
import { createMailSender } from './mail.ts';
import { type MqttOptions, type MqttSender, openMqttSender } from './mqtt.ts';
import { createPushSender } from './push.ts';
import { openPushDevices, type PushDevices } from './push-devices.ts';
import { pushKeys } from './push-keys.ts';
import { createTabletSender, type Tablets } from './tablet.ts';
import { createWebhookSender } from './webhook.ts';
import { givenKey, webhookKey } from './webhook-secret.ts';

/** Push services want somebody to write to. That an owner's address stays with the owner matters more: this one, kept for examples, reaches nobody. */
const CONTACT = 'mailto:owner@dawnhold.example';

/** The parts of a rig file that routes come from. */
export type RoutesFile = Pick<RigFile, 'routes' | 'heartbeat'>;

export interface SenderDeps {
  readonly store: DocumentStore;
  /** Where keys and secrets that Dawnhold makes are kept. */
  readonly dataFolder: string;
  /** What a relative `caFile` starts from: the folder of the rig file. */
  readonly rigFolder: string;
  /** The rig's wall clock, epoch ms. */
  readonly nowMs: () => EpochMs;
  readonly log: RouteLog;
  /** Publishes by the rig's broker; rejects while it is not connected. */
  readonly publish: MqttOptions['publish'];
  readonly tablets: () => Tablets;
  readonly secrets: { readonly mail: Credentials | null; readonly webhook: string | null };
  /** Told with the name of a device that can be reached no more by push until it subscribes anew. */
  readonly onGone: (name: string) => void;
  /** For push services that are not on the internet: those of a test. */
  readonly pushAllow?: readonly string[];
  readonly resolve?: Resolve;
  /** Certificate authorities in PEM in place of those that the system trusts. */
  readonly ca?: string;
}

/** The senders of a rig's routes, and what belongs to them. */
export interface Senders {
  /** By the name of the route; another map after each edit of the file. */
  all(): ReadonlyMap<string, Sender>;
  readonly devices: PushDevices;
  /** The rig's public key, with which a browser subscribes. */
  readonly pushKey: string;
  /** Calls the owner's address; null where the file names none. */
  heartbeat(): ((signal: AbortSignal) => Promise<SendResult>) | null;
  /** Follows an edited file: what is gone is closed, what stays the same goes on. */
  replace(file: RoutesFile): Promise<void>;
  /** The alarms after every step, for the routes that show a state. */
  alarmsAre(alarms: readonly Alarm[]): void;
  /** The broker is connected, for the first time or again. */
  brokerIsBack(): void;
  close(): Promise<void>;
}

interface Made {
  /** What it was made for. */
  readonly key: string;
  readonly sender: Sender;
  /** Set for a route that shows a state. */
  readonly state: MqttSender | null;
}

/** Makes the senders of a rig file. Rejects when the store or the data folder cannot be used. */
export async function openSenders(file: RoutesFile, deps: SenderDeps): Promise<Senders> {
  const { store, dataFolder, nowMs, log, onGone, resolve, ca } = deps;
  const guardFor = (allow: readonly string[]) => createAddressGuard({ allow, ...(resolve && { resolve }) });
  const pushGuard = guardFor(deps.pushAllow ?? []);
  const keys = pushKeys(dataFolder, log);
  const devices = await openPushDevices({ store, guard: pushGuard, publicKey: keys.publicKey, nowMs, log, onGone });
  const turns = new OneAtATime();
  let made: ReadonlyMap<string, Made> = new Map();
  let senders: ReadonlyMap<string, Sender> = new Map();
  let beat: ((signal: AbortSignal) => Promise<SendResult>) | null = null;

  async function make(name: string, route: Route): Promise<Omit<Made, 'key'>> {
    const only = (sender: Sender) => ({ sender, state: null });
    switch (route.kind) {
      case 'push':
        return only(createPushSender({ keys, devices, guard: pushGuard, contact: CONTACT, nowMs, log, onGone, ca }));
      case 'mail': {
        const { caFile } = route;
        const caPath = caFile === undefined ? null : isAbsolute(caFile) ? caFile : join(deps.rigFolder, caFile);
        return only(createMailSender({ route, credentials: deps.secrets.mail, caPath }));
      }
      case 'webhook': {
        const given = deps.secrets.webhook;
        const key = given === null ? webhookKey(dataFolder, name, log) : givenKey(given);
        return only(createWebhookSender({ url: route.url, allow: route.allow, guard: guardFor(route.allow), key, ca }));
      }
      case 'mqtt': {
        const state = await openMqttSender({ name, topic: route.topic, publish: deps.publish, store, log });
        return { sender: state, state };
      }
      case 'tablet':
        return only(createTabletSender(deps.tablets));
    }
  }

  async function replace({ routes, heartbeat }: RoutesFile): Promise<void> {
    beat = heartbeat ? createHeartbeat(heartbeat, guardFor(heartbeat.allow), { ca }).beat : null;
    const next = new Map<string, Made>();
    for (const [name, route] of Object.entries(routes)) {
      const key = JSON.stringify(route);
      const before = made.get(name);
      next.set(name, before?.key === key ? before : { key, ...(await make(name, route)) });
    }
    const left = [...made].flatMap(([name, one]) => (next.get(name) === one ? [] : [one]));
    const added = [...next].flatMap(([name, one]) => (made.get(name) === one ? [] : [one]));
    made = next;
    senders = new Map([...next].map(([name, { sender }]) => [name, sender]));
    await Promise.all(left.map(({ sender, state }) => (state ? state.retire() : sender.close())));
    for (const { state } of added) state?.brokerIsBack();
  }

  await replace(file);

  return {
    all: () => senders,
    devices,
    pushKey: keys.publicKey,
    heartbeat: () => beat,
    replace: (next) => turns.take(() => replace(next)).catch((error: unknown) => log.warn(`the routes stay as they were: ${reasonOf(error)}`)),
    alarmsAre(alarms) {
      for (const { state } of made.values()) state?.alarmsAre(alarms);
    },
    brokerIsBack() {
      for (const { state } of made.values()) state?.brokerIsBack();
    },
    close: () =>
      turns.take(async () => {
        await Promise.all([...made.values()].map(({ sender }) => sender.close()));
      }),
  };
}
