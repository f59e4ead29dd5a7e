import type { DeviceList, LogLines, RigBook, RigChange } from '../../shared/schema/rig-book.ts';
import type { TransferView } from '../../shared/schema/transfer.ts';
import { EVENING_MS, H } from './web-scenario-parts.ts';

const MB = 1e6;

/** What the box answers about itself. */
export interface RigState {
  book: RigBook;
  devices: DeviceList;
  lines: LogLines;
  nowMs: number;
  transfer: TransferView;
  /** Files that were brought in. */
  readonly imported: string[];
}

/** A rig of which everything is set up, on a box that is well. */
export function rigBook(): RigBook {
  return {
    hash: 'r1',
    whyFixed: '',
    setUp: true,
    sections: {
      rig: { id: 'heron', name: 'Heron', units: 'metric' },
      place: { latitude: 39.6, longitude: -8.1, timeZone: 'Europe/Lisbon' },
      bank: { chemistry: 'LiFePO4', cells: 8, capacityAh: 280, floor: 35, confidence: 90 },
      inverter: { ratedWatts: 2000, surgeWatts: 4000, cutoffVolts: 23.2, idleWatts: 18 },
      panels: [
        { watts: 1200, tilt: 0, azimuth: 0 },
        { watts: 400, tilt: 20, azimuth: 270 },
      ],
      minisplit: { minWatts: 140, maxWatts: 950, mode: 'cool', setpoint: 24, setpoints: [20, 28] },
      broker: { protocol: 4, listen: '0.0.0.0', port: 1883, qos: 0, discover: true },
      store: { kind: 'embedded', commitEvery: 5, keepRaw: 400 * 86_400 },
    },
    signals: [],
    forecast: null,
    routes: [
      { name: 'tablet', kind: 'tablet' },
      { name: 'phones', kind: 'push' },
    ],
    capacityLearnedAh: 276.4,
    versions: [
      { name: 'Dawnhold', version: '1.0.0' },
      { name: 'Node', version: '20.20.2' },
      { name: 'SQLite', version: '3.50.4' },
      { name: 'Shape of the state', version: '12' },
    ],
    process: { startedMs: EVENING_MS - 76 * H, memoryBytes: 148 * MB },
    storage: { kind: 'embedded', bytes: 412 * MB, freeBytes: 24_600 * MB, oldestMs: EVENING_MS - 240 * 24 * H, documents: 486 },
  };
}

/** A rig that nobody has set up yet. */
export function newRigBook(): RigBook {
  const book = rigBook();
  const sections: RigBook['sections'] = {
    ...book.sections,
    rig: { id: 'wren', name: 'wren', units: 'metric', settingUp: true },
    place: null,
    bank: { chemistry: 'LiFePO4', cells: 4, capacityAh: 100, floor: 20, confidence: 90 },
    inverter: null,
    panels: [],
    minisplit: null,
    broker: { protocol: 4, listen: '127.0.0.1', port: 1883, qos: 0, discover: true },
  };
  return { ...book, setUp: false, sections, capacityLearnedAh: null };
}

/** The book after a change that the box took; what is no section is left as it is. */
export function bookAfter(book: RigBook, change: RigChange): RigBook {
  const hash = `${book.hash}+`;
  if (change.what === 'set-up') return { ...book, hash, setUp: true };
  return 'value' in change ? { ...book, hash, sections: { ...book.sections, [change.what]: change.value } } : { ...book, hash };
}

export const OTHER_DEVICE = '5d1c8a52-5e0f-4c1b-9a53-1f3f2c6f2b11';

/** The tablet on the wall, which asks, and a guest's phone. Last seen is wall-clock time. */
export const deviceList = (nowMs = Date.now()): DeviceList => [
  {
    deviceId: '0b7d0a3e-6a44-4a40-8f6e-0c6a3f0d7a10',
    name: 'Wall tablet',
    role: 'operator',
    pairedMs: nowMs - 90 * 24 * H,
    lastSeenMs: nowMs - 60_000,
    isThis: true,
  },
  { deviceId: OTHER_DEVICE, name: "Guest's phone", role: 'viewer', pairedMs: nowMs - 3 * 24 * H, lastSeenMs: nowMs - 5 * H, isThis: false },
];

export const logLines = (): LogLines => [
  { tMs: EVENING_MS - 76 * H, level: 'info', text: 'started' },
  { tMs: EVENING_MS - 3 * H, level: 'warning', text: 'the broker closed the connection; trying again' },
  { tMs: EVENING_MS - 3 * H + 2000, level: 'info', text: 'connected with the broker' },
  { tMs: EVENING_MS - 60_000, level: 'error', text: '<img src=x onerror="window.attacked=true"> is no number' },
];

/** What the box says to the Rig place, by path; null for what is no business of it. */
export function rigAnswer(path: string, body: string, state: RigState): unknown {
  switch (path) {
    case '/api/rig-book':
      return state.book;
    case '/api/devices':
      return state.devices;
    case '/api/devices/code':
      return { code: 'HKM4-7QXT', expiresMs: state.nowMs + 600_000 };
    case '/api/devices/revoke': {
      const { deviceId } = JSON.parse(body) as { deviceId: string };
      state.devices = state.devices.filter((device) => device.deviceId !== deviceId);
      return { revoked: true };
    }
    case '/api/log-lines':
      return state.lines;
    case '/api/transfer':
      return state.transfer;
    case '/api/import':
      state.imported.push(body);
      return state.transfer;
    case '/api/restore':
      return { rigName: 'Heron', takenMs: EVENING_MS - 24 * H, nights: 29, words: 'The old store was set aside.' };
    default:
      return null;
  }
}
