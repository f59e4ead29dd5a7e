import { type Preset, remembered } from '../format/presets.ts';

const KEY = 'dawnhold.loads';

const isPreset = (item: unknown): item is Preset => {
  const { name, powerW, minutes, peakW } = (item ?? {}) as Partial<Record<keyof Preset, unknown>>;
  const isFigure = (value: unknown) => typeof value === 'number' && Number.isFinite(value) && value > 0;
  return typeof name === 'string' && name !== '' && isFigure(powerW) && [minutes, peakW].every((value) => value === null || isFigure(value));
};

/** Loads that were planned on this device, the newest first; what does not fit is left out. */
export function pastLoads(): Preset[] {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(KEY) ?? '[]');
    return Array.isArray(kept) ? kept.filter(isPreset) : [];
  } catch {
    return [];
  }
}

/** Keeps a load that was planned; returns what is kept now. */
export function keepLoad(load: Preset): Preset[] {
  const loads = remembered(pastLoads(), load);
  try {
    localStorage.setItem(KEY, JSON.stringify(loads));
  } catch {
    // A browser that keeps nothing offers them until the page is left.
  }
  return loads;
}
