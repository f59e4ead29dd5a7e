import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { MqttClient } from 'mqtt';
import { type Running, run, until } from '../bars/processes.ts';
import { PROJECT_ROOT } from '../project.ts';

const RIGS = Array.from({ length: 20 }, (_, at) => `rig-${at}`);
const SIGNALS = ['bank.voltage', 'bank.current', ...Array.from({ length: 98 }, (_, at) => `probe.p${at}`)];

/** Boards of every second rig send their own time, those of the others a bare number. */
const sendsTime = (rigAt: number) => rigAt % 2 === 0;

/** Twenty rigs of a hundred signals each, a topic each. */
export const FLEET = { rigs: RIGS, signals: SIGNALS, topics: RIGS.length * SIGNALS.length } as const;

/** Writes their rig files for collectors that share; gives the paths. */
export async function writeFleet(folder: string, { brokerUrl, serverUrl }: { brokerUrl: string; serverUrl: string }): Promise<string[]> {
  return Promise.all(
    RIGS.map(async (rig, at) => {
      const how = sendsTime(at) ? ', format: json, pointer: /v, timePointer: /at' : '';
      const lines = [
        `rig: { id: ${rig}, name: ${rig} }`,
        'bank: { cells: 8, capacityAh: 280 }',
        `broker: { url: "${brokerUrl}", protocol: 5, qos: 1, share: fleet }`,
        `copyTo: { kind: line-protocol, url: "${serverUrl}" }`,
        'store: { commitEvery: 1 s }',
        'signals:',
        ...SIGNALS.map((signal) => `  ${signal}: { topic: ${rig}/${signal}${how}${signal.startsWith('probe') ? ', unit: Cel' : ''} }`),
      ];
      const path = join(folder, `${rig}.yaml`);
      await writeFile(path, `${lines.join('\n')}\n`);
      return path;
    }),
  );
}

/** Publishes one value on every topic; resolves when the broker has acknowledged all. */
export async function publishRound(board: MqttClient, value: number): Promise<void> {
  const nowMs = Date.now();
  const payloads = [String(value), JSON.stringify({ v: value, at: nowMs })];
  await Promise.all(
    RIGS.flatMap((rig, at) => SIGNALS.map((signal) => board.publishAsync(`${rig}/${signal}`, payloads[Number(sendsTime(at))] as string, { qos: 1 }))),
  );
}

/** A collector in a process of its own, once it hears every topic. */
export async function startCollector(dataFolder: string, rigFiles: readonly string[]): Promise<Running> {
  const command = ['--import', 'tsx', join(PROJECT_ROOT, 'deploy/main.ts'), 'collect', '--data', dataFolder, '--rig', ...rigFiles];
  const one = run(process.execPath, command, { cwd: PROJECT_ROOT });
  await until(() => one.said().includes(`connected: ${FLEET.topics} topics`) || one.child.exitCode !== null, 'the collector', one.said);
  if (one.child.exitCode !== null) throw new Error(`the collector ended: ${one.said()}`);
  return one;
}

/** How many messages a collector that has ended says it heard. */
export const heardBy = ({ said }: Running): number => Number(/(\d+) messages, /.exec(said())?.[1]);
