import { describe, expect, it } from 'vitest';
import { type Curtailment, type CurtailmentWitness, notCurtailed, stepCurtailment } from '../../../engine/panels/curtailment.ts';

const STEP_MS = 10_000;
/** Runs minutes of steps; the witness changes with the minute. */
function run(from: Curtailment, minutes: number, witness: (minute: number) => Omit<CurtailmentWitness, 'tMs'>): Curtailment {
  let state = from;
  for (let i = 0; i < minutes * 6; i++) state = stepCurtailment(state, { tMs: i * STEP_MS, ...witness(Math.floor(i / 6)) });
  return state;
}

const sunny = { panelsW: 800, bankW: 500, cellV: 3.36, couldW: 820, charger: { limitV: 3.43, floatV: 3.33 } };

describe('panels held back by a full bank', () => {
  it('H08: are, while the voltage stands at the limit', () => {
    expect(run(notCurtailed, 3, () => sunny).curtailed).toBe(false);
    expect(run(notCurtailed, 3, () => ({ ...sunny, panelsW: 40, bankW: 0, cellV: 3.5 })).curtailed).toBe(true);
  });

  it('H08: still are when the charger falls back to its float and the bank rests', () => {
    const full = run(notCurtailed, 3, () => ({ ...sunny, panelsW: 200, bankW: 30, cellV: 3.5 }));
    expect(run(full, 60, () => ({ ...sunny, panelsW: 120, bankW: 5, cellV: 3.37 })).curtailed).toBe(true);
    expect(run(full, 2, () => ({ ...sunny, panelsW: 120, bankW: -300, cellV: 3.33 })).curtailed).toBe(false);
    expect(run(full, 2, () => ({ ...sunny, panelsW: 810, bankW: 30, cellV: 3.37 })).curtailed).toBe(false);
  });

  it('H08: are when their output jumps with every load that starts', () => {
    const jumping = (minute: number) => ({ ...sunny, cellV: 3.38, bankW: 10, panelsW: Math.floor(minute / 5) % 2 === 0 ? 150 : 550 });
    expect(run(notCurtailed, 4, jumping).curtailed).toBe(false);
    expect(run(notCurtailed, 20, jumping).curtailed).toBe(true);
  });

  it('are not when the bank takes over the load, nor in cloud that comes and goes', () => {
    const loads = (minute: number) => ({ ...sunny, panelsW: 400, bankW: Math.floor(minute / 5) % 2 === 0 ? 300 : -100 });
    expect(run(notCurtailed, 40, loads)).toMatchObject({ curtailed: false, followed: 0 });
    const cloud = (minute: number) => ({
      ...sunny,
      panelsW: Math.floor(minute / 5) % 2 === 0 ? 150 : 550,
      bankW: Math.floor(minute / 5) % 2 === 0 ? -150 : 250,
    });
    expect(run(notCurtailed, 40, cloud)).toMatchObject({ curtailed: false, followed: 0 });
  });

  it('are no longer once the bank takes over the loads again, or gives', () => {
    const jumping = (minute: number) => ({ ...sunny, cellV: 3.38, bankW: 10, panelsW: Math.floor(minute / 5) % 2 === 0 ? 150 : 550 });
    const held = run(notCurtailed, 20, jumping);
    expect(run(held, 12, (minute) => ({ ...sunny, panelsW: 500, bankW: minute < 5 ? 200 : -100 })).curtailed).toBe(false);
  });

  it('cannot be told without the bank, but from its voltage', () => {
    expect(run(notCurtailed, 20, (minute) => ({ ...sunny, bankW: null, panelsW: minute % 10 < 5 ? 150 : 550 })).curtailed).toBe(false);
    expect(run(notCurtailed, 2, () => ({ ...sunny, bankW: null, cellV: 3.5 })).curtailed).toBe(true);
  });
});
