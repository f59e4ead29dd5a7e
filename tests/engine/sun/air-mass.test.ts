import { describe, expect, it } from 'vitest';
import { airPressurePa, relativeAirMass } from '../../../engine/sun/air-mass.ts';

describe('the air that a sunbeam crosses', () => {
  it('is 1 from overhead, some 2 at 30 degrees, 38 on the horizon and no more from under it', () => {
    expect(relativeAirMass(90)).toBeCloseTo(1, 3);
    expect(relativeAirMass(30)).toBeCloseTo(1.994, 3);
    expect(relativeAirMass(10)).toBeCloseTo(5.586, 3);
    expect(relativeAirMass(0)).toBeCloseTo(37.92, 1);
    expect(relativeAirMass(-8)).toBe(relativeAirMass(0));
  });

  it('presses with 101,325 Pa at the sea and a tenth less at 900 m', () => {
    expect(airPressurePa(0)).toBe(101_325);
    expect(airPressurePa(1000)).toBeCloseTo(89_874.6, 0);
    expect(airPressurePa(900) / airPressurePa(0)).toBeCloseTo(0.898, 3);
  });
});
