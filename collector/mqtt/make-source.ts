import { readFile } from 'node:fs/promises';
import { resolve } from 'node:path';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { createEmbeddedBroker } from './broker.ts';
import { createBrokerClient } from './client.ts';
import type { BrokerSecrets, MessageSource } from './source.ts';

/** Every topic that a rig file names, each once. */
export function topicsOf({ signals }: RigFile): readonly string[] {
  const topics = new Set<string>();
  for (const spec of signals.specs.values()) for (const source of [spec, ...(spec.sum ?? [])]) if (source.topic !== undefined) topics.add(source.topic);
  if (signals.forecast !== null) topics.add(signals.forecast.topic);
  return [...topics];
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
  const { url, protocol, listen, port, caFile, clientId, qos, discover } = file.broker;
  if (url === undefined) return createEmbeddedBroker({ listen, port, secrets });
  const ca = caFile === undefined ? null : await readAuthority(resolve(folder, caFile));
  return createBrokerClient({ url, protocol, ca, secrets, clientId: clientId ?? null, qos, topics: topicsOf(file), discover });
}
