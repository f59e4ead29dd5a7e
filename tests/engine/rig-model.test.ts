import { describe, expect, it } from 'vitest';
import { rigModel } from '../../engine/rig-model.ts';
import { RigFile } from '../../shared/schema/rig-file.ts';

const file = (over: Record<string, unknown> = {}, signals: Record<string, unknown> = {}) =>
  RigFile.parse({
    rig: { id: 'finch', name: 'Finch' },
    bank: { chemistry: 'LiFePO4', cells: 8, capacityAh: 280, floor: 35 },
    inverter: { ratedWatts: 2000, idleWatts: 18 },
    panels: [{ watts: 1600, tilt: 5, azimuth: 90 }],
    signals: { 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a', every: '30 s' }, ...signals },
    ...over,
  });

describe('what the engine takes from a rig file', () => {
  it('is in its own units', () => {
    expect(rigModel(file(), 'Asia/Kathmandu')).toMatchObject({
      capacityAh: 280,
      floorFrac: 0.35,
      inverter: { ratedW: 2000, idleW: 18, cutoffV: null },
      panels: [{ ratedW: 1600, tiltDeg: 5, azimuthDeg: 90 }],
      minisplit: null,
      place: null,
      timeZone: 'Asia/Kathmandu',
    });
    expect(rigModel(file(), 'UTC').everyS.get('bank.current')).toBe(30);
  });

  it('names chargers and loads, and knows which are measured behind the inverter', () => {
    const more = {
      'charge.alternator.power': { topic: 'c' },
      'load.fridge.power': { topic: 'f', side: 'dc' },
      'load.oven.power': { topic: 'o' },
      'minisplit.power': { topic: 'm' },
    };
    const rig = rigModel(file({}, more), 'UTC');
    expect(rig).toMatchObject({ chargers: ['alternator'], loads: ['fridge', 'oven'] });
    expect([...rig.acSide].sort()).toEqual(['load.oven.power', 'minisplit.power']);
    expect(rigModel(file({ inverter: undefined }, more), 'UTC').acSide.size).toBe(0);
  });
});
