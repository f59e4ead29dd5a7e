import { type Command, InvalidArgumentError } from 'commander';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { CertificateFiles } from '../start/certificate.ts';
import { demoScene } from '../start/demo-scene.ts';
import { writeFirstFile } from '../start/first-file.ts';
import { keepRunning } from '../start/keep-running.ts';
import { recordingScene } from '../start/recording-scene.ts';
import { rigScene } from '../start/rig-scene.ts';
import type { Scene } from '../start/scene.ts';

interface Options {
  readonly rig?: string;
  readonly new: boolean;
  readonly data?: string;
  readonly port: number;
  readonly listen: string;
  readonly host: string[];
  readonly cert?: string;
  readonly key?: string;
  readonly pace: number;
  readonly recording?: string;
}

/** A stop that hangs is cut off after so long; what is committed is safe by then. */
const STOP_WITHIN_MS = 8000;

/** Adds `start`: the rig, the demo or a recording, with the screens. */
export function addStart(program: Command): void {
  program
    .command('start')
    .description('run the rig of a rig file; without one, a simulated demo rig')
    .option('--rig <file>', 'rig file; left out: the demo rig')
    .option('--new', 'write the rig file first, where there is none, and set the rig up on the screens', false)
    .option('--data <folder>', 'where everything is kept; left out: .data/<rig id>')
    .option('--port <number>', 'port of the screens', port, 8350)
    .option('--listen <address>', 'address of the screens; beyond loopback, devices must be paired', '127.0.0.1')
    .option('--host <name>', 'a name under which the box is reached (may be repeated)', (name: string, names: string[]) => [...names, name], [])
    .option('--cert <file>', 'serve the screens by https with this certificate (PEM, its chain behind it); a renewed file is picked up')
    .option('--key <file>', 'private key of the certificate (PEM)')
    .option('--pace <factor>', 'how much faster than life the demo or a recording runs', number(0.1, 3600), 1)
    .option('--recording <file>', 'play a recording instead of listening to a broker')
    .action(start);
}

const number = (min: number, max: number) => (text: string) => {
  const value = Number(text);
  if (!(value >= min && value <= max)) throw new InvalidArgumentError(`a number from ${min} to ${max} was expected`);
  return value;
};

function port(text: string): number {
  const value = number(0, 65_535)(text);
  if (!Number.isInteger(value)) throw new InvalidArgumentError('a whole number was expected');
  return value;
}

function sceneOf({ rig, data, pace, recording }: Options): Promise<Scene> {
  if (recording !== undefined) {
    if (rig === undefined) throw new AppError('RIG_FILE_MISSING', '--recording needs the rig file it is read by: add --rig FILE');
    return recordingScene(rig, recording, pace, data);
  }
  if (rig === undefined) return demoScene(pace, data);
  if (pace !== 1) throw new AppError('REQUEST_INVALID', '--pace is for the demo and for recordings; a real rig lives at its own pace');
  return rigScene(rig, data);
}

/** The rig file that --new is about. */
function fileFor({ rig, recording }: Options): string {
  if (rig === undefined || recording !== undefined) throw new AppError('REQUEST_INVALID', '--new needs the name of the rig file to be made: add --rig FILE');
  return rig;
}

function tlsOf({ cert, key }: Options): CertificateFiles | null {
  if (cert === undefined && key === undefined) return null;
  if (cert === undefined || key === undefined) throw new AppError('REQUEST_INVALID', '--cert and --key belong together: give both, or neither');
  return { cert, key };
}

async function start(options: Options): Promise<void> {
  const tls = tlsOf(options);
  if (options.new) await writeFirstFile(fileFor(options));
  const running = await keepRunning(
    () => sceneOf(options),
    { port: options.port, listen: options.listen, hosts: options.host, tls },
    (error) => {
      console.error(reasonOf(error));
      process.exit(1);
    },
  );
  let stopping = false;
  const stop = async (signal: string) => {
    if (stopping) return;
    stopping = true;
    console.log(`${signal}: keeping everything and stopping ...`);
    setTimeout(() => process.exit(1), STOP_WITHIN_MS).unref();
    await running.stop();
    process.exit(0);
  };
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, () => void stop(signal));
  // A power supply that sees its input fail may have this sent to the process; whether the power really goes is then awaited, not decided.
  process.on('SIGPWR', () => {
    console.log('SIGPWR: keeping everything, the power may fail');
    running.flush().catch((error: unknown) => console.error(reasonOf(error)));
  });
}
