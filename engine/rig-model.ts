import { type RigFile, signalQuantity } from '../shared/schema/rig-file.ts';
import { signalKind } from '../shared/signals.ts';
import { MODES } from '../shared/units.ts';
import type { RigModel } from './types.ts';

const named = (names: Iterable<string>, group: string): string[] =>
  [...names].filter((n) => n.startsWith(`${group}.`) && n.endsWith('.power')).map((n) => n.slice(group.length + 1, -'.power'.length));

/** What the engine needs of a rig file; `timeZone` is the one in force (from the file or looked up). */
export function rigModel(file: RigFile, timeZone: string): RigModel {
  const specs = file.signals.specs;
  const acByNature = (name: string): boolean => name === 'minisplit.power' || name.startsWith('load.');
  return {
    rigId: file.rig.id,
    chemistry: file.bank.chemistry,
    cells: file.bank.cells,
    capacityAh: file.bank.capacityAh,
    floorFrac: file.bank.floor / 100,
    confidence: file.bank.confidence / 100,
    inverter: file.inverter
      ? {
          ratedW: file.inverter.ratedWatts,
          surgeW: file.inverter.surgeWatts ?? null,
          idleW: file.inverter.idleWatts,
          cutoffV: file.inverter.cutoffVolts ?? null,
        }
      : null,
    panels: file.panels.map((p) => ({ ratedW: p.watts, tiltDeg: p.tilt, azimuthDeg: p.azimuth })),
    minisplit: file.minisplit
      ? {
          minW: file.minisplit.minWatts,
          maxW: file.minisplit.maxWatts,
          modeIndex: MODES.indexOf(file.minisplit.mode),
          setpointC: file.minisplit.setpoint ?? null,
          setpointsC: file.minisplit.setpoints,
        }
      : null,
    place: file.place ? { latitudeDeg: file.place.latitude, longitudeDeg: file.place.longitude } : null,
    everyS: new Map([...specs].map(([name, spec]) => [name, spec.every])),
    acSide: new Set(
      [...specs].filter(([name, spec]) => file.inverter !== undefined && (spec.side ? spec.side === 'ac' : acByNature(name))).map(([name]) => name),
    ),
    chargers: named(specs.keys(), 'charge'),
    loads: named(specs.keys(), 'load'),
    timeZone,
    units: file.rig.units,
    ownQuantities: Object.fromEntries(
      [...specs].flatMap(([name, spec]) => {
        const quantity = signalKind(name) ? null : signalQuantity(name, spec);
        return quantity ? [[name, quantity]] : [];
      }),
    ),
    temperatures: [...specs].filter(([name, spec]) => name !== 'minisplit.setpoint' && signalQuantity(name, spec) === 'temperature').map(([name]) => name),
  };
}
