import { type Decoded, decodePayload } from '../../../collector/mqtt/decode.ts';
import type { SignalSource } from '../../../shared/schema/rig-file.ts';
import type { Quantity } from '../../../shared/units.ts';

export const NOW = Date.UTC(2026, 5, 1, 12);
const bare: SignalSource = {
  topic: 'rig/t',
  format: 'number',
  scale: 1,
  offset: 0,
  chargingIs: 'positive',
  decimalComma: false,
  reject: [],
  powerOn: [],
  saturatesAt: [],
};
export const json = (pointer: string, more: Partial<SignalSource> = {}): Partial<SignalSource> => ({ format: 'json', pointer, ...more });

/** Decodes a payload that arrived at NOW, from a bare source with the given differences. */
export function decode(payload: string | Uint8Array, source: Partial<SignalSource> = {}, quantity: Quantity = 'voltage'): Decoded {
  return decodePayload(typeof payload === 'string' ? Buffer.from(payload) : payload, { ...bare, ...source }, quantity, NOW);
}
export const value = (decoded: Decoded): number | string => (decoded.ok ? decoded.value : decoded.reason);
