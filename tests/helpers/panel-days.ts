import { clearSkyPanelsW, type Surroundings } from '../../engine/panels/panel-model.ts';
import { sunPosition } from '../../engine/sun/sun.ts';
import { BIN_MS, type Bin } from '../../engine/types.ts';

const DAY_BINS = 144;

/** A level kilowatt at 38 N on the prime meridian, whose clock is that of its sun. */
export const STOP = { panels: [{ ratedW: 1000, tiltDeg: 0, azimuthDeg: 0 }], place: { latitudeDeg: 38, longitudeDeg: 0 }, headingDeg: 0, sinceMs: 0 };
export const FIRST_DAY_MS = Date.UTC(2026, 5, 1);

/** Ten minutes in which nothing but the panels was measured. */
const NOTHING: Omit<Bin, 'tMs'> = {
  coverage: 1,
  socFrac: null,
  voltageV: null,
  bankW: null,
  panelsW: null,
  chargersW: 0,
  loadsW: null,
  minisplitW: null,
  standingW: null,
  inverterW: null,
  unaccountedW: null,
  surplusW: null,
  outsideC: null,
  cabinC: null,
  waterGm3: null,
  setpointC: null,
  modeIndex: null,
  panelIndex: null,
  curtailedFrac: 0,
};

/** What stands or floats before the sun at one bin. */
export interface Moment {
  readonly day: number;
  /** Hour of the day by the sun, 0 to 24. */
  readonly hour: number;
  readonly elevationDeg: number;
  readonly azimuthDeg: number;
}

/** Days of bins: each gives `share(moment)` of the clear power; `more` changes a bin further. */
export function panelDays(
  days: number,
  share: (moment: Moment) => number,
  around: Surroundings = {},
  more: (moment: Moment) => Partial<Bin> = () => ({}),
): Bin[] {
  return Array.from({ length: days * DAY_BINS }, (_, i) => {
    const tMs = FIRST_DAY_MS + i * BIN_MS;
    const middleMs = tMs + BIN_MS / 2;
    const moment = { day: Math.floor(i / DAY_BINS), hour: ((i % DAY_BINS) + 0.5) / 6, ...sunPosition(STOP.place, middleMs) };
    const clearW = clearSkyPanelsW(STOP, STOP.place, middleMs, 0, { airC: 20, ...around });
    const panelsW = share(moment) * clearW;
    return { ...NOTHING, tMs, panelsW, outsideC: 20, panelIndex: clearW > 15 ? panelsW / clearW : null, ...more(moment) };
  });
}

/** A number between 0 and 1 that looks random and is the same every time. */
export const unsteady = (n: number): number => {
  const x = Math.sin(n * 127.1 + 311.7) * 43758.5453;
  return x - Math.floor(x);
};
