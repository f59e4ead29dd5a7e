import { z } from 'zod';
import { noiseOf } from './noise.ts';
import { wallClock } from './place.ts';

/** The fridge remembers its inside and whether its compressor runs. */
export const FridgeState = z.strictObject({ insideC: z.number(), running: z.boolean() });
export type FridgeState = z.infer<typeof FridgeState>;

const FRIDGE_W = 56;

/** One step of the fridge in a cabin of a temperature. Its power is on the dc side, W; all of it warms the cabin in the end. */
export function stepFridge(fridge: FridgeState, cabinC: number, powered: boolean, dtS: number): { fridge: FridgeState; powerW: number } {
  const running = powered && (fridge.running ? fridge.insideC > 3.4 : fridge.insideC > 6);
  const movedW = running ? 105 - 1.1 * Math.max(0, cabinC - 20) : 0;
  const insideC = fridge.insideC + ((2.5 * (cabinC - fridge.insideC) - movedW) * dtS) / 42_000;
  return { fridge: { insideC, running }, powerW: running ? FRIDGE_W : 0 };
}

/** What the person has switched on at an instant. */
export interface Habits {
  readonly acW: number;
  readonly dcW: number;
  /** Heat of the person and of what they use, W, apart from the electric loads. */
  readonly bodyW: number;
  readonly waterGph: number;
  /** A door or vent stands open, 0..1. */
  readonly openFrac: number;
}

/** One use of something on one day, in hours of the wall clock. */
interface Use {
  readonly fromH: number;
  readonly toH: number;
  readonly acW: number;
  readonly dcW: number;
  readonly waterGph: number;
  readonly openFrac: number;
}

const use = (fromH: number, minutes: number, what: Partial<Use>): Use => ({
  acW: 0,
  dcW: 0,
  waterGph: 0,
  openFrac: 0,
  ...what,
  fromH,
  toH: fromH + minutes / 60,
});

/** The day of one person as a function of the date: kettle, cooking, laptop, lights, shower pump, comings and goings. `spare`: the person leaves electric cooking to gas. */
export function createHabits(seed: number): (tMs: number, dark: boolean, spare: boolean) => Habits {
  const dice = noiseOf(seed, 'day');
  let planned = Number.NaN;
  let uses: readonly Use[] = [];
  let meals: readonly Use[] = [];

  function plan(day: number): void {
    const roll = (n: number) => dice.at(day * 32 + n);
    const late = roll(0) * 0.9;
    uses = [
      use(6.9 + late, 4.5, { acW: 1150, waterGph: 300 }),
      use(7.1 + late, 25, { waterGph: 90 }),
      ...(roll(1) < 0.45 ? [use(14.5 + roll(2), 4, { acW: 1150, waterGph: 250 })] : []),
      ...(roll(3) < 0.65 ? [use(9 + roll(4), 60 + 110 * roll(5), { acW: 58 })] : []),
      ...(roll(6) < 0.5 ? [use(14.8 + roll(7), 60 + 80 * roll(8), { acW: 58 })] : []),
      use(20 + 0.7 * roll(9), 60 + 100 * roll(10), { acW: 66 }),
      use(7.6 + late, 7, { dcW: 70, waterGph: 500 }),
      use(20.3 + roll(11), 2, { dcW: 70 }),
      use(8.5 + roll(12), 12, { openFrac: 0.6 }),
      use(12.5 + 4 * roll(13), 20, { openFrac: 0.8 }),
      use(17.5 + roll(14), 6, { openFrac: 1 }),
    ];
    meals = [
      ...(roll(15) < 0.8 ? [use(18.6 + 1.4 * roll(16), 28 + 26 * roll(17), { acW: 850 + 150 * roll(18), waterGph: 420 })] : []),
      ...(roll(19) < 0.3 ? [use(12.4 + roll(20), 18 + 14 * roll(21), { acW: 900, waterGph: 350 })] : []),
    ];
    planned = day;
  }

  return (tMs, dark, spare) => {
    const { day, hour } = wallClock(tMs);
    if (day !== planned) plan(day);
    const awake = hour > 6.9 && hour < 23.2,
      away = hour > 10.2 && hour < 12 && dice.at(day * 32 + 22) < 0.5;
    // The gateway and the sensor boards never sleep; the far link to the network is given up to spare the bank.
    let acW = 0,
      dcW = (spare ? 11 : 41) + (dark && awake ? 17 : 0),
      waterGph = away ? 0 : awake ? 55 : 40,
      openFrac = 0;
    for (const list of spare ? [uses] : [uses, meals]) {
      for (const one of list) {
        if (hour < one.fromH || hour >= one.toH) continue;
        acW += one.acW;
        dcW += one.dcW;
        waterGph += one.waterGph;
        openFrac = Math.max(openFrac, one.openFrac);
      }
    }
    return { acW, dcW, bodyW: away ? 0 : awake ? 85 : 65, waterGph, openFrac };
  };
}
