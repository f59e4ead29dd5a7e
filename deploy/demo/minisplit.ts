import { z } from 'zod';

/** What the mini-split remembers from step to step. */
export const MinisplitState = z.strictObject({
  /** Compressor speed: 0 off, else 0.08..1. */
  speed: z.number(),
  trim: z.number(),
  restS: z.number(),
  frost: z.number(),
  defrostS: z.number(),
});
export type MinisplitState = z.infer<typeof MinisplitState>;

export interface MinisplitInput {
  readonly mode: 'cool' | 'heat';
  readonly setpointC: number;
  readonly cabinC: number;
  readonly outsideC: number;
  readonly outsideHumidityPct: number;
  /** False while the inverter is off. */
  readonly powered: boolean;
}

export interface MinisplitFlow {
  readonly powerW: number;
  readonly heatW: number;
  readonly coilC: number | null;
}

const SLOWEST = 0.08;
const MIN_W = 140;
const MAX_W = 950;
const STANDBY_W = 5;
const REST_S = 210;
const DEFROST_S = 260;

export const restedMinisplit: MinisplitState = { speed: 0, trim: 0, restS: REST_S, frost: 0, defrostS: 0 };

const kelvin = (tempC: number) => tempC + 273.15;

/** Heat moved per watt, from the temperatures of its coils as the speed sets them: a share of the ideal. */
function yieldOf(mode: 'cool' | 'heat', speed: number, cabinC: number, outsideC: number): number {
  if (mode === 'heat') {
    const warm = kelvin(cabinC + 13 + 13 * speed),
      cold = kelvin(outsideC - 5 - 9 * speed);
    return (0.4 * warm) / Math.max(18, warm - cold);
  }
  const cold = kelvin(cabinC - 11 - 9 * speed),
    warm = kelvin(outsideC + 8 + 11 * speed);
  return (0.41 * cold) / Math.max(16, warm - cold);
}

/**
 * One step of the mini-split: a compressor that follows the thermostat between its slowest and full speed, switches off when even the
 * slowest is too much, rests before it starts again, and in damp cold stops heating for minutes to melt the frost off its outer coil.
 */
export function stepMinisplit(unit: MinisplitState, input: MinisplitInput, dtS: number): { unit: MinisplitState; flow: MinisplitFlow } {
  const { mode, cabinC, outsideC } = input;
  if (!input.powered) return { unit: { ...restedMinisplit, restS: 0, frost: unit.frost }, flow: { powerW: 0, heatW: 0, coilC: null } };
  if (unit.defrostS > 0) {
    return { unit: { ...unit, defrostS: Math.max(0, unit.defrostS - dtS), frost: 0 }, flow: { powerW: 410, heatW: -650, coilC: null } };
  }
  const wantC = mode === 'heat' ? input.setpointC - cabinC : cabinC - input.setpointC;
  const off = unit.speed === 0;
  if (off ? wantC < 0.45 || unit.restS < REST_S : wantC < -0.55) {
    return { unit: { ...unit, speed: 0, trim: 0, restS: unit.restS + dtS }, flow: { powerW: STANDBY_W, heatW: 0, coilC: null } };
  }
  const trim = Math.max(-0.2, Math.min(0.9, unit.trim + (wantC * dtS) / 9000));
  const wanted = Math.max(SLOWEST, Math.min(1, 0.34 * wantC + trim));
  const ramp = dtS / 240;
  const speed = off ? SLOWEST : Math.max(SLOWEST, unit.speed + Math.max(-ramp, Math.min(ramp, wanted - unit.speed)));
  const powerW = MIN_W + ((MAX_W - MIN_W) * (speed - SLOWEST)) / (1 - SLOWEST);
  const movedW = powerW * yieldOf(mode, speed, cabinC, outsideC) * (1 - 0.12 * unit.frost);
  const frosting = mode === 'heat' && outsideC < 5.5 ? ((0.35 + speed) * Math.max(0, input.outsideHumidityPct - 55)) / 45 / 4200 : -1 / 7200;
  const frost = Math.max(0, unit.frost + frosting * dtS);
  return {
    unit: { speed, trim, restS: 0, frost, defrostS: frost >= 1 ? DEFROST_S : 0 },
    flow: { powerW, heatW: mode === 'heat' ? movedW : -movedW, coilC: mode === 'cool' ? cabinC - 9 - 8 * speed : null },
  };
}
