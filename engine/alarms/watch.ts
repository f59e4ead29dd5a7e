import type { Maybe } from '../numeric/series.ts';
import { fastChange } from './means.ts';
import { type Seen, signalText } from './seen.ts';

/** The watched thermometers that speak, with what they say. */
export function watchThermometers({ box, value }: Seen): { signal: string; tempC: number }[] {
  return (box.watch?.thermometers ?? []).flatMap((signal) => {
    const tempC = value(signal);
    return tempC === null ? [] : [{ signal, tempC }];
  });
}

const temps = (seen: Seen): number[] => watchThermometers(seen).map(({ tempC }) => tempC);

/** How far the warmest watched place is above the person's limit, K; null while no thermometer speaks, or nothing is watched. */
export function watchOverK(seen: Seen): Maybe {
  const all = temps(seen);
  return seen.box.watch === null || all.length === 0 ? null : Math.max(...all) - seen.box.watch.warmestC;
}

export function watchUnderK(seen: Seen): Maybe {
  const all = temps(seen);
  return seen.box.watch === null || all.length === 0 ? null : seen.box.watch.coldestC - Math.min(...all);
}

/** The fastest change of a watched place within ten minutes, K. */
export function watchChange(seen: Seen, way: 'riseK' | 'fallK'): Maybe {
  const changes = watchThermometers(seen).flatMap(({ signal, tempC }) => fastChange(seen.state.means.temperatures[signal], tempC) ?? []);
  return changes.length === 0 ? null : Math.max(...changes.map((change) => change[way]));
}

/** What keeps the watch from seeing or from calling, in words; nothing while it is not armed. */
export function watchBlind(seen: Seen): string[] {
  const { box, watched, state, value } = seen;
  if (box.watch === null) return [];
  const { thermometers, heartbeatOk, routeOk, overdue = false, muted = [] } = box.watch;
  const silent = thermometers.filter((signal) => value(signal) === null).map((signal) => `${signalText(signal)} is silent`);
  const p = watched.belowFloorProbability === null ? null : state.projection;
  return [
    ...silent,
    ...(overdue ? ['nobody has come back at the time that was named'] : []),
    ...muted,
    ...(heartbeatOk ? [] : ['the heartbeat fails']),
    ...(routeOk ? [] : ['no route away from the rig works']),
    ...(p === null ? ['whether the bank holds is not known'] : p.belowFloorProbability > 0.5 ? ['the bank will not hold'] : []),
  ];
}
