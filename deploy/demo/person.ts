import { z } from 'zod';
import { wallClock } from './place.ts';

/** What the person has decided. Thrift 0: as they like it; 1: careful; 2: the mini-split rests and a fuel heater keeps the frost out. */
export const PersonState = z.strictObject({
  mode: z.enum(['cool', 'heat']),
  setpointC: z.number(),
  thrift: z.union([z.literal(0), z.literal(1), z.literal(2)]),
  /** The part of the day that was last decided about. */
  decided: z.number().int(),
});
export type PersonState = z.infer<typeof PersonState>;

/** Hours of the wall clock at which the person looks at the bank and decides. */
const LOOKS_H = [8.5, 17, 22];
/** What the bank should show at each look for living as they like, and for living carefully. */
const COMFORT = [
  [0.4, 0.3],
  [0.86, 0.68],
  [0.7, 0.56],
] as const;
const SETPOINT_C = {
  heat: [
    [20.5, 16.5, 13],
    [21.5, 17, 13],
    [20, 16, 13],
  ],
  cool: [
    [24, 26, 28],
    [24, 25.5, 28],
    [23, 24.5, 28],
  ],
} as const;
const FUEL_MAX_W = 1900;

/** Lets the person look up, if the hour has come: the bank as their display shows it (0..1), and the mean air temperature of the coming day. */
export function decide(person: PersonState, tMs: number, shownSocFrac: number, coming: () => number): PersonState {
  const { day, hour } = wallClock(tMs);
  const passed = LOOKS_H.filter((h) => hour >= h).length;
  const decided = day * 3 + passed;
  if (decided === person.decided) return person;
  // Midnight itself is no look: the third look of the day before holds until the morning.
  const look = (passed + 2) % 3;
  const [free, careful] = COMFORT[look] ?? COMFORT[0];
  const thrift = shownSocFrac >= free ? 0 : shownSocFrac >= careful ? 1 : 2;
  const meanC = coming();
  const mode = meanC > 21 ? 'cool' : meanC < 17 ? 'heat' : person.mode;
  return { mode, thrift, setpointC: SETPOINT_C[mode][look]?.[thrift] ?? person.setpointC, decided };
}

/** Heat of the fuel heater, W: only in heating weather while the mini-split rests. */
export function fuelHeatW(person: PersonState, cabinC: number): number {
  return person.mode === 'heat' && person.thrift === 2 ? Math.max(0, Math.min(FUEL_MAX_W, (16.5 - cabinC) * 1200)) : 0;
}
