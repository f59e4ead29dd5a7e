import type { SignalInfo, SignalState } from '../../shared/schema/live.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { Thermometer } from './watch-refusals.ts';

/** Groups whose temperatures are not of a place where somebody could be. */
const ELSEWHERE = ['outside', 'bank', 'minisplit', 'panels', 'inverter'];

/** The thermometers of a rig that may stand where somebody is, with what they say. A suspect value is none. */
export function thermometersOf(file: RigFile, infos: readonly SignalInfo[], states: readonly SignalState[]): Thermometer[] {
  return infos
    .filter(({ name, quantity }) => quantity === 'temperature' && !ELSEWHERE.includes(name.slice(0, name.indexOf('.'))))
    .map(({ index, name, label, everyS }) => {
      const { topic, pointer, name: record } = file.signals.specs.get(name) ?? {};
      const state = states.find((one) => one.index === index);
      const fresh = state?.freshness === 'fresh' && state.quality === 'ok';
      return { signal: name, label, everyS, source: JSON.stringify([topic, pointer, record]), valueC: state?.value ?? null, fresh };
    });
}
