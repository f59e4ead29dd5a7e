/** What is really so in the simulated rig, as no sensor shows it. Powers in W; currents positive into the bank. */
export interface RigTruth {
  readonly tMs: number;
  readonly socFrac: number;
  readonly voltageV: number;
  readonly currentA: number;
  readonly panelsW: number;
  /** What the panels could have given. */
  readonly panelsAvailableW: number;
  /** All loads on the dc side, the inverter's own with them. */
  readonly loadsW: number;
  readonly minisplitW: number;
  readonly fridgeW: number;
  readonly inverterOn: boolean;
  readonly setpointC: number;
  readonly mode: 'cool' | 'heat';
  /** 0: the person lives as they like; 1: carefully; 2: the mini-split rests. */
  readonly thrift: number;
  readonly cabinC: number;
  readonly cabinHumidityPct: number;
  readonly outsideC: number;
  readonly outsideHumidityPct: number;
  readonly globalWm2: number;
  readonly coverFrac: number;
  readonly sunUp: number;
  readonly deviceSocFrac: number;
  readonly housingWarmC: number;
}
