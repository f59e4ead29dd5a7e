import type { Breakdown } from '../../../../shared/schema/advice.ts';

/** What takes energy this night. */
export type EnergyGroup = 'minisplit' | 'standing' | 'planned' | 'inverter';

/** A group with its part of all that is drawn, 0 to 1. */
export interface EnergyShare {
  readonly group: EnergyGroup;
  readonly label: string;
  readonly energyWh: number;
  readonly share: number;
}

const ORDER: readonly EnergyGroup[] = ['minisplit', 'standing', 'planned', 'inverter'];
const LABELS: Readonly<Record<EnergyGroup, string>> = {
  minisplit: 'Mini-split',
  standing: 'Standing loads',
  planned: 'Planned loads',
  inverter: "Inverter's own draw",
};

/**
 * The groups that take something, in a fixed order; empty when nothing is drawn.
 * @param isMinisplitKnown  false: what the standing loads take has the mini-split in it
 */
export function energyShares(energyWh: Breakdown['energyWh'], isMinisplitKnown: boolean): EnergyShare[] {
  const groups = ORDER.filter((group) => Math.round(energyWh[group]) > 0);
  const sumWh = groups.reduce((sum, group) => sum + energyWh[group], 0);
  const label = (group: EnergyGroup) => (group === 'standing' && !isMinisplitKnown ? 'All loads with the mini-split' : LABELS[group]);
  return groups.map((group) => ({ group, label: label(group), energyWh: energyWh[group], share: energyWh[group] / sumWh }));
}

const SOURCES: Readonly<Record<Breakdown['doubt'][number]['source'], string>> = {
  outside: 'outdoor temperature',
  minisplit: 'how hard the mini-split works',
  standing: 'what else is switched on',
  soc: 'state of charge now',
  sun: 'sun',
};

/** A source of doubt with its part of all of it, 0 to 1; `together` is what no source makes by itself. */
export interface DoubtShare {
  readonly source: Breakdown['doubt'][number]['source'] | 'together';
  readonly label: string;
  readonly share: number;
}

/** What the doubt comes from, the largest first; parts under one in twenty, and what comes of several together, stand last as one. Empty when there is none. */
export function doubtShares(doubt: Breakdown['doubt']): DoubtShare[] {
  const notable = doubt.filter(({ share }) => share >= 0.05).map(({ source, share }): DoubtShare => ({ source, label: SOURCES[source], share }));
  if (notable.length === 0) return [];
  const rest = 1 - notable.reduce((sum, { share }) => sum + share, 0);
  return rest < 0.05 ? notable : [...notable, { source: 'together', label: 'smaller ones, and several together', share: rest }];
}
