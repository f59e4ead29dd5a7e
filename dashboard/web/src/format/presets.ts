import type { AnnouncedLoad } from '../../../../shared/schema/plan.ts';

/** A load of the person's own, offered by touch. `minutes` and `peakW` are null where nobody has said them. */
export interface Preset {
  readonly name: string;
  readonly powerW: number;
  readonly minutes: number | null;
  readonly peakW: number | null;
}

/** More would be a list to read, not a touch. */
const MOST_PRESETS = 6;
/** A measured load that draws less than this now says nothing of what it draws when it is used, W. */
const NOTABLE_W = 20;

/**
 * The person's own loads, each name once: those planned on this device, the newest first, then those that are planned, then those that are measured and draw now.
 * @param past  planned earlier on this device, the newest first
 */
export function presets(
  past: readonly Preset[],
  plan: readonly AnnouncedLoad[],
  measured: readonly { readonly name: string; readonly powerW: number | null }[],
): Preset[] {
  const planned = plan.map(({ name, powerW, startMs, endMs }) => ({ name, powerW, minutes: Math.round((endMs - startMs) / 60_000), peakW: null }));
  const seen = measured.flatMap(({ name, powerW }) =>
    powerW === null || powerW < NOTABLE_W ? [] : [{ name, powerW: Math.round(powerW), minutes: null, peakW: null }],
  );
  const byName = new Map<string, Preset>();
  for (const preset of [...past, ...planned, ...seen]) {
    const key = preset.name.toLowerCase();
    if (!byName.has(key)) byName.set(key, preset);
  }
  return [...byName.values()].slice(0, MOST_PRESETS);
}

/** The loads to remember after one was planned: it stands first, each name once. */
export const remembered = (past: readonly Preset[], planned: Preset): Preset[] =>
  [planned, ...past.filter(({ name }) => name.toLowerCase() !== planned.name.toLowerCase())].slice(0, MOST_PRESETS);
