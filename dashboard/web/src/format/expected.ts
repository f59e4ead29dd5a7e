import type { Projection } from '../../../../shared/schema/projection.ts';

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
