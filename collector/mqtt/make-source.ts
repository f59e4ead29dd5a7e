import { readFile } from 'node:fs/promises';
import { resolve } from 'node:path';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { createEmbeddedBroker } from './broker.ts';
import { createBrokerClient } from './client.ts';
import type { BrokerSecrets, MessageSource } from './source.ts';

/** Every topic that signals of a rig file are read from, each once. */
export function signalTopicsOf({ signals }: RigFile): readonly string[] {
  const topics = new Set<string>();
  for (const spec of signals.specs.values()) for (const source of [spec, ...(spec.sum ?? [])]) if (source.topic !== undefined) topics.add(source.topic);
  return [...topics];
}

/** Every topic that a rig file names, each once. */
export function topicsOf(file: RigFile): readonly string[] {
  const { forecast } = file.signals;
  return [...new Set([...signalTopicsOf(file), ...(forecast === null ? [] : [forecast.topic])])];
}

/**
 * What the choice of a source depends on; made anew when it changes. The embedded broker hears all there is, and boards stay connected to it over
 * an edit of signals. An outside one may refuse `#`, and does not cover `$...` by it, so there the topics always count.
 */
export function sourceKey(file: RigFile): string {
  return JSON.stringify([file.broker, file.broker.url === undefined ? [] : topicsOf(file)]);
}

async function readAuthority(path: string): Promise<string> {
  try {
    return await readFile(path, 'utf8');
  } catch (error) {
    throw new AppError('SECRET_MISSING', `cannot read broker.caFile ${path}: ${reasonOf(error)}`, { cause: error });
  }
}

/**
 * The source that a rig file's `broker` asks for: a client of the broker at `url`, else the embedded one. `folder`: what a relative `caFile` starts from.
 * SECRET_MISSING when the certificate authority cannot be read.
 */
export async function makeSource(file: RigFile, secrets: BrokerSecrets | null, folder: string): Promise<MessageSource> {
  const { url, listen, port, share } = file.broker;
  if (share !== undefined) {
    throw new AppError(
      'REQUEST_INVALID',
      'broker.share gives each message to one collector of a group, and a verdict needs them all: take it out here, and use such a file with npm run collect',
    );
  }
  if (url === undefined) return createEmbeddedBroker({ listen, port, secrets });
  return clientOf(file.broker, url, topicsOf(file), secrets, folder);
}

/**
 * One client for the signals of several rigs at the same outside broker, as one of a group where `broker.share` names one.
 * Forecasts are not heard: nobody here looks ahead.
 */
export async function makeFleetSource(files: readonly RigFile[], secrets: BrokerSecrets | null, folder: string): Promise<MessageSource> {
  const [first] = files;
  if (first?.broker.url === undefined) throw new AppError('REQUEST_INVALID', 'collectors need an outside broker: broker.url in the rig file');
  return clientOf({ ...first.broker, discover: false }, first.broker.url, [...new Set(files.flatMap(signalTopicsOf))], secrets, folder);
}

async function clientOf(broker: RigFile['broker'], url: string, topics: readonly string[], secrets: BrokerSecrets | null, folder: string) {
  const { protocol, caFile, clientId = null, qos, discover, share = null } = broker;
  const ca = caFile === undefined ? null : await readAuthority(resolve(folder, caFile));
  return createBrokerClient({ url, protocol, ca, secrets, clientId, qos, topics, discover, share });
}
