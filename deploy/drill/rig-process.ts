import { lookup } from 'node:dns';
import { systemClock } from '../runtime/clock.ts';
import { rigScene } from '../start/rig-scene.ts';
import { run } from '../start/run.ts';

/** What the drill hands to the process of its rig, as JSON in the first argument. */
export interface RigSettings {
  readonly rigPath: string;
  readonly dataFolder: string;
  readonly pace: number;
  /** When the rig's time began to run at `pace`, epoch ms; the same after a restart. */
  readonly beganMs: number;
  /** Authority of the push service. */
  readonly ca: string;
}

/** What the drill says to it while it runs. `die`: at the next sending by push, before anything of it has left. */
export type Order = { readonly do: 'jump'; readonly hours: number } | { readonly do: 'die' };

const { rigPath, dataFolder, pace, beganMs, ca } = JSON.parse(process.argv[2] ?? '') as RigSettings;
const startedMs = Date.now();
const started = process.hrtime.bigint();
const goneMs = (): number => Number((process.hrtime.bigint() - started) / 1000n) / 1000;
let jumpMs = 0;
let isToDie = false;

process.on('message', (order: Order) => {
  if (order.do === 'jump') jumpMs += order.hours * 3_600_000;
  else isToDie = true;
});
// A file that may not grow is an error for who writes to it, as a full disk is, not the end of the process.
process.on('SIGXFSZ', () => undefined);

const clock = systemClock({ wallMs: () => beganMs + (startedMs - beganMs + goneMs()) * pace + jumpMs, monoMs: () => goneMs() * pace });
const scene = { ...(await rigScene(rigPath, dataFolder)), clock, facts: { demo: false, pace } };
const running = await run(scene, {
  port: 0,
  listen: '127.0.0.1',
  hosts: [],
  tls: null,
  routes: {
    ca,
    pushAllow: ['localhost'],
    resolve(host, done) {
      if (isToDie) process.kill(process.pid, 'SIGKILL');
      lookup(host, { all: true, family: 4 }, done);
    },
  },
});
process.once('SIGTERM', () => {
  running.stop().then(
    () => process.exit(0),
    () => process.exit(1),
  );
});
