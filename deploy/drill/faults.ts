import { setTimeout } from 'node:timers/promises';
import { until } from '../bars/processes.ts';
import { openHangingMailServer, type openMailServer } from './mail-server.ts';
import { openRigUnderDrill, type RigUnderDrill } from './rig-under-drill.ts';

/** What a fault came to. */
export interface Outcome {
  /** Where the alarm arrived, or what the screen says; in words. */
  readonly arrived: string;
  readonly holds: boolean;
}

/** Something that goes wrong, and what must come of the alarm all the same. */
export interface Fault {
  readonly name: string;
  readonly what: string;
  readonly openPost?: typeof openMailServer;
  drill(rig: RigUnderDrill): Promise<Outcome>;
}

const HOT = 'drill-hot';
/** Long enough for what is on its way twice to come twice: several times the first waits, at the pace of the drill. */
const SETTLE_MS = 3000;

const ofAlarm = ({ phone }: RigUnderDrill, alarmId: string) => phone.got.filter((body) => body.kind === 'alarm' && body.alarmId === alarmId);
const mailsWith = ({ post }: RigUnderDrill, word: string) => post.got.filter((mail) => mail.includes(word));

/** How often an alarm came by each route; it holds when it came at all, each event once, and on the phone as one. */
async function arrival(rig: RigUnderDrill, alarmId: string, word: string, times: 'once' | 'at least once' = 'once'): Promise<Outcome> {
  await until(() => ofAlarm(rig, alarmId).length + mailsWith(rig, word).length > 0, `the alarm ${alarmId}`, rig.said);
  await setTimeout(SETTLE_MS);
  const pushes = ofAlarm(rig, alarmId);
  const events = new Set(pushes.map(({ eventId }) => eventId));
  const shown = [...rig.phone.shown().values()].filter((body) => body.alarmId === alarmId).length;
  const mails = mailsWith(rig, word).length;
  const arrived = [pushes.length > 0 ? `phone: ${pushes.length} of ${events.size} event, shows ${shown}` : '', mails > 0 ? `mail: ${mails}` : '']
    .filter((part) => part !== '')
    .join('; ');
  const isOne = events.size <= 1 && shown === events.size && mails <= 1;
  return { arrived, holds: isOne && (times === 'at least once' || pushes.length <= 1) };
}

/** Once the fault is there, the push service has been asked in vain; then it takes pushes again. */
async function healsAfterTries(rig: RigUnderDrill, tries: number): Promise<void> {
  const before = rig.phone.asked();
  await until(() => rig.phone.asked() >= before + tries, 'an attempt by push', rig.said);
  rig.phone.mood = 'take';
}

export const FAULTS: readonly Fault[] = [
  {
    name: 'broker-killed',
    what: 'the broker is killed',
    async drill(rig) {
      await rig.killBroker();
      return arrival(rig, 'broker-lost', 'The broker is lost');
    },
  },
  {
    name: 'sensor-silent',
    what: 'a thermometer says nothing any more',
    async drill(rig) {
      rig.silenceCabin();
      return arrival(rig, 'sensor-silent', 'Sensors are silent');
    },
  },
  {
    name: 'store-full',
    what: 'nothing can be written to the store',
    async drill(rig) {
      rig.fillDisk();
      rig.heat();
      const outcome = await arrival(rig, HOT, 'The cabin in the drill');
      await until(() => rig.said().includes('the store fails'), 'the store to fail', rig.said);
      return outcome;
    },
  },
  ...([7, -7] as const).map(
    (hours): Fault => ({
      name: hours > 0 ? 'clock-ahead' : 'clock-back',
      what: `the clock jumps ${Math.abs(hours)} h ${hours > 0 ? 'ahead' : 'back'} while the notice waits`,
      async drill(rig) {
        rig.phone.mood = 'broken';
        rig.heat();
        await until(() => rig.phone.asked() > 0, 'an attempt by push', rig.said);
        rig.order({ do: 'jump', hours });
        rig.phone.mood = 'take';
        await until(() => ofAlarm(rig, HOT).length > 0, 'the push after the jump', rig.said);
        return arrival(rig, HOT, 'The cabin in the drill');
      },
    }),
  ),
  {
    name: 'mail-hangs',
    what: 'the mail server takes connections and says nothing',
    openPost: openHangingMailServer,
    async drill(rig) {
      rig.heat();
      await until(() => rig.post.asked() > 0, 'an attempt by mail', rig.said);
      return arrival(rig, HOT, 'The cabin in the drill');
    },
  },
  {
    name: 'push-410',
    what: 'the push service says that the phone is gone (410)',
    async drill(rig) {
      rig.phone.mood = 'gone';
      rig.heat();
      const told = await until(() => mailsWith(rig, 'gets no alarms any more').length > 0, 'the mail about the phone', rig.said);
      const outcome = await arrival(rig, HOT, 'The cabin in the drill');
      return { arrived: `${outcome.arrived}; mail says that the phone is gone`, holds: outcome.holds && told };
    },
  },
  ...(
    [
      ['push-429', 'busy', 'the push service is too busy (429), then takes it'],
      ['push-500', 'broken', 'the push service fails (500), then takes it'],
    ] as const
  ).map(
    ([name, mood, what]): Fault => ({
      name,
      what,
      async drill(rig) {
        rig.phone.mood = mood;
        rig.heat();
        await healsAfterTries(rig, 2);
        await until(() => ofAlarm(rig, HOT).length > 0, 'the push', rig.said);
        return arrival(rig, HOT, 'The cabin in the drill');
      },
    }),
  ),
  {
    name: 'killed-before-sending',
    what: 'the process is killed between keeping and sending',
    async drill(rig) {
      rig.order({ do: 'die' });
      rig.heat();
      await rig.ended();
      const before = rig.phone.got.length + rig.post.got.length;
      await rig.kill();
      await rig.start();
      const outcome = await arrival(rig, HOT, 'The cabin in the drill');
      return { arrived: `${outcome.arrived} (${before} before the kill)`, holds: outcome.holds && before === 0 };
    },
  },
  {
    name: 'killed-before-result',
    what: 'the process is killed between sending and keeping the result',
    async drill(rig) {
      const taken = new Promise<void>((resolve) => {
        rig.phone.onTaken = () => {
          rig.phone.onTaken = () => undefined;
          resolve(rig.kill());
        };
      });
      rig.heat();
      await taken;
      await rig.start();
      await until(() => ofAlarm(rig, HOT).length > 1, 'the push once more', rig.said);
      return arrival(rig, HOT, 'The cabin in the drill', 'at least once');
    },
  },
  {
    name: 'nothing-left',
    what: 'no route works at all',
    openPost: openHangingMailServer,
    async drill(rig) {
      rig.phone.mood = 'broken';
      rig.heat();
      const reach = await until(() => (rig.reach()?.noRoute ? rig.reach() : null), 'the screen that says so', rig.said);
      const since = reach.unreachableSinceMs === null ? '' : ', remote alarms unreachable';
      return { arrived: `the screen says that no route is left${since}`, holds: reach.noRoute && reach.unreachableSinceMs !== null };
    },
  },
];

/** Drills one fault on a rig of its own. */
export async function drilled({ openPost, drill }: Fault): Promise<Outcome> {
  const rig = await openRigUnderDrill(openPost);
  try {
    return await drill(rig);
  } finally {
    await rig.close();
  }
}
