import type { Reading } from '../../shared/schema/reading.ts';

/** What a signal does: where it starts, how it wanders and rattles within its range, and in which steps its sensor tells it. */
interface Habit {
  readonly signal: string;
  readonly start: number;
  /** Standard deviation of a second's wandering, and of the noise of a reading. */
  readonly wander: number;
  readonly noise: number;
  readonly step: number;
  /** Told with the sensor's own whole seconds. */
  readonly byDevice?: boolean;
  /** The sensor tells degrees Fahrenheit. */
  readonly fahrenheit?: boolean;
}

/** Twenty signals of a rig at 1 Hz, with the steps and the noise of common sensors. */
const HABITS: readonly Habit[] = [
  { signal: 'bank.voltage', start: 26.4, wander: 0.002, noise: 0.012, step: 0.01 },
  { signal: 'bank.current', start: -12, wander: 0.02, noise: 0.15, step: 0.01 },
  { signal: 'bank.stateOfCharge', start: 71, wander: 0.002, noise: 0, step: 0.1 },
  { signal: 'bank.temperature', start: 18, wander: 0.002, noise: 0.05, step: 0.1 },
  { signal: 'bank.cellVoltageMin', start: 3.295, wander: 0.0002, noise: 0.001, step: 0.001 },
  { signal: 'bank.cellVoltageMax', start: 3.302, wander: 0.0002, noise: 0.001, step: 0.001 },
  { signal: 'panels.power', start: 540, wander: 2, noise: 6, step: 1, byDevice: true },
  { signal: 'panels.voltage', start: 71, wander: 0.01, noise: 0.05, step: 0.01, byDevice: true },
  { signal: 'panels.current', start: 7.6, wander: 0.02, noise: 0.05, step: 0.01, byDevice: true },
  { signal: 'minisplit.power', start: 410, wander: 2, noise: 8, step: 1 },
  { signal: 'cabin.temperature', start: 24, wander: 0.002, noise: 0.02, step: 0.01 },
  { signal: 'cabin.humidity', start: 48, wander: 0.01, noise: 0.15, step: 0.1 },
  { signal: 'outside.temperature', start: 88, wander: 0.004, noise: 0.1, step: 0.1, fahrenheit: true },
  { signal: 'outside.humidity', start: 40, wander: 0.01, noise: 0.2, step: 0.1 },
  { signal: 'outside.irradiance', start: 610, wander: 1, noise: 3, step: 1 },
  { signal: 'load.galley.power', start: 62, wander: 0.1, noise: 0.8, step: 0.1 },
  { signal: 'load.desk.power', start: 48, wander: 0.1, noise: 0.5, step: 0.1 },
  { signal: 'load.pump.power', start: 3, wander: 0, noise: 0.1, step: 0.1 },
  { signal: 'load.lights.power', start: 21, wander: 0.05, noise: 0.2, step: 0.1 },
  { signal: 'charge.alternator.power', start: 0, wander: 0, noise: 0, step: 1 },
];

export const BENCH_RIG = 'bench';
export const SIGNALS = HABITS.map(({ signal }) => signal);

/** The same numbers each time: uniform from 0 to 1. */
function createDraw(seed: number): () => number {
  let state = seed;
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
}

/** Gives the readings of one second after another, 20 each, in an order that differs as messages do. */
export function createRigOf20(startMs: number): () => Reading[] {
  const draw = createDraw(20);
  const normal = () => Math.sqrt(-2 * Math.log(1 - draw())) * Math.cos(2 * Math.PI * draw());
  const levels = HABITS.map(({ start }) => start);
  let second = 0;
  let arrivalSeq = 0;
  return () => {
    const readings = HABITS.map(({ signal, start, wander, noise, step, byDevice, fahrenheit }, at): Reading => {
      // Drawn back to where it started, so that a year of it stays in range.
      const level = (levels[at] as number) + wander * normal() - 0.0001 * ((levels[at] as number) - start);
      levels[at] = level;
      const told = Number((Math.round((level + noise * normal()) / step) * step).toFixed(3));
      const value = fahrenheit ? ((told - 32) * 5) / 9 : told;
      const lateMs = byDevice ? 0 : Math.max(0, Math.round(60 + 30 * normal()));
      return {
        rigId: BENCH_RIG,
        signal,
        tMs: startMs + second * 1000 + lateMs,
        value,
        quality: 'ok',
        timeSource: byDevice ? 'device' : 'arrival',
        arrivalSeq: 0,
      };
    });
    second += 1;
    const order = readings.map((reading) => ({ reading, key: draw() })).sort((a, b) => a.key - b.key);
    return order.map(({ reading }) => {
      arrivalSeq += 1;
      return { ...reading, arrivalSeq };
    });
  };
}
