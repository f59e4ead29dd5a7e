import { dirname } from 'node:path';
import type { Command } from 'commander';
import { loadRigFile } from '../../collector/config/load.ts';
import { createBrokerClient } from '../../collector/mqtt/client.ts';
import { makeSource, topicsOf } from '../../collector/mqtt/make-source.ts';
import type { MessageSource } from '../../collector/mqtt/source.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { brokerSecrets } from '../environment.ts';
import { openRecording } from '../recording/write.ts';

interface Options {
  readonly rig?: string;
  readonly broker?: string;
  readonly out: string;
}

const FLUSH_MS = 10_000;

/** Adds `record`: every message of a live broker, as JSON lines. */
export function addRecord(program: Command): void {
  program
    .command('record')
    .description('write every message of a broker to a file until interrupted; an existing recording is added to')
    .requiredOption('--out <file>', 'JSON lines; gzip when it ends in .gz')
    .option('--rig <file>', 'take the broker from this rig file')
    .option('--broker <url>', 'the broker, such as mqtt://127.0.0.1:1883')
    .action(record);
}

async function record(options: Options): Promise<void> {
  const source = await sourceOf(options);
  const recording = await openRecording(options.out);
  let messages = 0;
  await source.start({
    onMessage(message) {
      recording.add({ ...message, tMs: Date.now() });
      messages += 1;
    },
    onStatus: (status, reason) => console.error(`broker ${status}${reason === '' ? '' : `: ${reason}`}`),
  });
  const timer = setInterval(() => {
    recording.flush().catch((error: unknown) => console.error(`cannot write ${options.out}: ${reasonOf(error)}`));
  }, FLUSH_MS);
  await new Promise<void>((resolve) => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => resolve());
  });
  clearInterval(timer);
  await source.stop();
  await recording.close();
  console.error(`${messages} messages in ${options.out}`);
}

async function sourceOf({ rig, broker }: Options): Promise<MessageSource> {
  const secrets = brokerSecrets();
  if (broker !== undefined) return clientOf(broker, [], secrets);
  if (rig === undefined) throw new AppError('REQUEST_INVALID', 'which broker? Add --broker URL, or --rig FILE to take it from a rig file');
  const { file } = await loadRigFile(rig);
  // The embedded broker belongs to the running program; a recording listens to it as any client does.
  if (file.broker.url === undefined) return clientOf(`mqtt://${inUrl(file.broker.listen)}:${file.broker.port}`, topicsOf(file), secrets);
  // All that there is, and no share of a group, which the others of it would lack.
  const { share: _, ...whole } = file.broker;
  return makeSource({ ...file, broker: { ...whole, discover: true } } satisfies RigFile, secrets, dirname(rig));
}

const inUrl = (address: string): string => (address.includes(':') ? `[${address}]` : address);

function clientOf(url: string, topics: readonly string[], secrets: ReturnType<typeof brokerSecrets>): MessageSource {
  return createBrokerClient({ url, protocol: 4, ca: null, secrets, clientId: null, qos: 0, topics, discover: true });
}
