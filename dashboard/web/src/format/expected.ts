import type { Projection } from '../../../../shared/schema/projection.ts';
import { powerText } from './quantity.ts';

/** What is expected to draw and to give, W, each null where nothing is known of it: it is then left out or said to be unknown, never shown as zero. */
export interface Expected {
  readonly minisplit: number | null;
  readonly standing: number;
  readonly inverter: number | null;
  readonly panels: number | null;
}

/** What of the rig is measured now. */
export interface Measured {
  readonly minisplit: boolean;
  readonly panels: boolean;
}

/** A zero that stands throughout says that a power is not modelled, unless it is measured and really is zero. */
export function known({ curve, energyWh }: Projection, measured: Measured) {
  const flows = (key: 'minisplitW' | 'inverterW' | 'panelsW') => curve.some((point) => point[key] > 0);
  return {
    minisplit: measured.minisplit || energyWh.minisplit > 0 || flows('minisplitW'),
    inverter: energyWh.inverter > 0 || flows('inverterW'),
    panels: measured.panels || energyWh.panels > 0 || flows('panelsW'),
  };
}

/** The powers at one point of the curve, W. */
export function expectedW(p: Projection, at: Projection['curve'][number], measured: Measured): Expected {
  const is = known(p, measured);
  return {
    minisplit: is.minisplit ? at.minisplitW : null,
    standing: at.standingW,
    inverter: is.inverter ? at.inverterW : null,
    panels: is.panels ? at.panelsW : null,
  };
}

/** A group at a moment in words: "mini-split", "190 W". */
export interface GroupText {
  readonly group: 'minisplit' | 'standing' | 'planned' | 'inverter' | 'panels';
  readonly label: string;
  readonly text: string;
}

/** What the standing loads are called; with a mini-split of which nothing is known, it stands in them. */
export const standingLabel = (minisplit: number | null, hasMinisplit: boolean): string =>
  minisplit === null && hasMinisplit ? 'all loads with the mini-split' : 'standing loads';

/** What draws and gives at a moment, by group: what is not known is left out, and so are planned loads and panels while there is nothing of them. */
export function groupTexts({ minisplit, standing, inverter, panels }: Expected, plannedW: number, hasMinisplit: boolean): GroupText[] {
  const of = (group: GroupText['group'], label: string, powerW: number | null): GroupText[] =>
    powerW === null ? [] : [{ group, label, text: powerText(powerW) }];
  return [
    ...of('minisplit', 'mini-split', minisplit),
    ...of('standing', standingLabel(minisplit, hasMinisplit), standing),
    ...of('planned', 'planned loads', plannedW >= 0.5 ? plannedW : null),
    ...of('inverter', 'inverter', inverter),
    ...of('panels', 'panels', panels !== null && panels >= 1 ? panels : null),
  ];
}
