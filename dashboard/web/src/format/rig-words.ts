/** Nominal voltage of one cell, V: what the trade prints on banks. */
const CELL_V: ReadonlyMap<string, number> = new Map([
  ['LiFePO4', 3.2],
  ['AGM', 2],
  ['NMC', 3.6],
]);

/** Cells in series that make a bank of each class, by chemistry. */
const CELLS: ReadonlyMap<string, readonly (readonly [volts: number, cells: number])[]> = new Map([
  [
    'LiFePO4',
    [
      [12, 4],
      [24, 8],
      [48, 16],
    ],
  ],
  [
    'AGM',
    [
      [12, 6],
      [24, 12],
      [48, 24],
    ],
  ],
  [
    'NMC',
    [
      [24, 7],
      [48, 14],
    ],
  ],
]);

/** Classes of banks that a chemistry makes, with the cells that each takes. */
export const bankClasses = (chemistry: string): readonly (readonly [volts: number, cells: number])[] => CELLS.get(chemistry) ?? [];

/** What a bank holds: "97 Ah as learned, 100 Ah as you told it", and plainly when nothing has been learned yet. `learnedAh` and `ratedAh`: null where not known. */
export function capacityText(learnedAh: number | null, ratedAh: number | null): string {
  const told = ratedAh === null ? '' : `${Math.round(ratedAh)} Ah as you told it`;
  if (learnedAh !== null) return `${Math.round(learnedAh)} Ah as learned${told && `, ${told}`}`;
  return told ? `${told}; nothing learned of it yet` : 'not known yet';
}

/** "8 × 3.2 V = 25.6 V nominal, a 24 V bank"; '' while it cannot be told. */
export function nominalText(chemistry: string, cells: number): string {
  const cellV = CELL_V.get(chemistry);
  if (cellV === undefined || !Number.isInteger(cells) || cells < 1) return '';
  const volts = bankClasses(chemistry).find(([, wanted]) => wanted === cells)?.[0];
  return `${cells} × ${cellV} V = ${Number((cells * cellV).toFixed(1))} V nominal${volts === undefined ? '' : `, a ${volts} V bank`}`;
}

/** What a bank holds when it is new, Wh; null while it cannot be told. */
export function nominalWh(chemistry: string, cells: number, capacityAh: number): number | null {
  const wh = (CELL_V.get(chemistry) ?? Number.NaN) * cells * capacityAh;
  return Number.isFinite(wh) && wh > 0 ? wh : null;
}

const SIDES = [
  'to the front',
  'to the front right',
  'to the right',
  'to the back right',
  'to the back',
  'to the back left',
  'to the left',
  'to the front left',
];

/** How panels lie, in words: "flat", "leaning 15° to the left". @param azimuthDeg  from the vehicle's nose, clockwise */
export function leanText(tiltDeg: number, azimuthDeg: number): string {
  if (!(tiltDeg >= 0 && tiltDeg <= 90 && azimuthDeg >= 0 && azimuthDeg <= 360)) return '';
  if (tiltDeg < 1) return 'flat, so it faces no side';
  return `${tiltDeg > 89 ? 'upright, facing' : `leaning ${Math.round(tiltDeg)}°`} ${SIDES[Math.round(azimuthDeg / 45) % 8]}`;
}

/** Coordinates as people read them: "39.6000° N, 8.1000° W". */
export const coordinatesText = (latitude: number, longitude: number): string =>
  `${Math.abs(latitude).toFixed(4)}° ${latitude < 0 ? 'S' : 'N'}, ${Math.abs(longitude).toFixed(4)}° ${longitude < 0 ? 'W' : 'E'}`;

/** Bytes as people read them: "812 kB", "412 MB", "24.6 GB". */
export function bytesText(bytes: number): string {
  const units = ['B', 'kB', 'MB', 'GB', 'TB'];
  const step = bytes < 1000 ? 0 : Math.min(units.length - 1, Math.floor(Math.log10(bytes) / 3));
  const size = bytes / 1000 ** step;
  return `${step > 0 && size < 99.95 ? size.toFixed(1) : Math.round(size)} ${units[step]}`;
}

/** A code lives this long where the clocks cannot be compared, ms. */
const CODE_LIFE_MS = 600_000;

/** How long a code counts from the moment it came, ms. @param nowMs  the rig's time, which in a demo is not the time of the box */
export function codeLifeMs(expiresMs: number, nowMs: number): number {
  const leftMs = expiresMs - nowMs;
  return leftMs > 0 && leftMs <= CODE_LIFE_MS + 60_000 ? leftMs : CODE_LIFE_MS;
}

/** "9:40", what is left of a span. */
export function countdownText(leftMs: number): string {
  const seconds = Math.max(0, Math.ceil(leftMs / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
}

/** What a paired device may do. */
export const ROLE_WORDS: Readonly<Record<'viewer' | 'operator', { readonly name: string; readonly may: string }>> = {
  viewer: { name: 'May look', may: 'sees every screen and can change nothing' },
  operator: { name: 'May also act', may: 'acknowledges alarms, plans loads and changes settings' },
};
