import type { Stop } from '../../engine/notify/call.ts';
import { initialPlan, type NotifyPlan, type PlanInputs, stepPlan, type Telling } from '../../engine/notify/plan.ts';
import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import { CallOut, Routes } from '../../shared/schema/routes.ts';
import { alarmOf } from './web-alarm.ts';

/** Noon of the rig's zone, so that nothing is quiet unless a test goes there. */
export const NOON_MS = Date.UTC(2026, 10, 27, 12);
export const ROUTES = Routes.parse({
  tablet: { kind: 'tablet' },
  phones: { kind: 'push' },
  post: { kind: 'mail', server: 'mail.example', from: 'rig@mail.example', to: ['me@mail.example'] },
  lamp: { kind: 'mqtt', topic: 'heron/lamp' },
});

/** A loud alarm, but for what is given. */
export const loud = (part: Partial<Alarm> = {}): Alarm =>
  alarmOf({ id: 'bank-low', title: 'The bank', condition: true, lifecycle: 'unacknowledged', priority: 'high', text: 'It is low.', occurrence: 1, ...part });

export type Told = Pick<Telling, 'why' | 'routes'>;

/** Steps a plan through time. */
export function planBench(callOut: unknown = {}, more: Partial<PlanInputs> = {}) {
  let time: EngineTime = { wallMs: NOON_MS, monoMs: 1000, bootId: 'a', clockSure: true };
  let plan: NotifyPlan = initialPlan(time);
  let reached = true;
  const inputs = {
    callOut: CallOut.parse(callOut),
    routes: ROUTES,
    remote: ['phones', 'post'],
    routesOf: () => null,
    hasReached: () => reached,
    timeZone: 'Etc/UTC',
    ...more,
  };
  return {
    time: () => time,
    plan: () => plan,
    reaches(is: boolean) {
      reached = is;
    },
    /** One step after so many seconds; what is told and what stops. */
    step(alarms: readonly Alarm[], afterS = 10): { tell: Told[]; stop: readonly Stop[]; tellings: readonly Telling[] } {
      time = { ...time, wallMs: time.wallMs + 1000 * afterS, monoMs: time.monoMs + 1000 * afterS };
      const { plan: next, tell, stop } = stepPlan(plan, { ...inputs, alarms }, time);
      plan = next;
      return { tell: tell.map(({ why, routes }) => ({ why, routes })), stop, tellings: tell };
    },
    /** Steps of 10 s for so long; all that was told, with the second at which it was. */
    hold(alarms: readonly Alarm[], forS: number): { atS: number; why: string; routes: readonly string[] }[] {
      const told: { atS: number; why: string; routes: readonly string[] }[] = [];
      for (let atS = 10; atS <= forS; atS += 10) for (const one of this.step(alarms).tell) told.push({ atS, ...one });
      return told;
    },
    /** Only the wall clock moves. */
    setClock(byS: number) {
      time = { ...time, wallMs: time.wallMs + 1000 * byS };
    },
    /** The process is killed now, and starts again so many seconds later; what was kept comes back from its JSON. */
    restart(awayS: number, clockSure = true, wallBehindS = 0) {
      plan = JSON.parse(JSON.stringify(plan));
      time = { wallMs: time.wallMs + 1000 * (awayS - wallBehindS), monoMs: 5, bootId: `${time.bootId}+`, clockSure };
    },
  };
}
