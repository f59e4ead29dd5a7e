import type { Quantity } from '../../shared/units.ts';
import type { CompiledSource } from '../mqtt/decode.ts';

/** Quantities that one chip measures together: an air sensor's, a shunt amplifier's. */
const AIR: ReadonlySet<Quantity> = new Set(['temperature', 'humidity']);
const SHUNT: ReadonlySet<Quantity> = new Set(['voltage', 'current', 'power']);

/**
 * The mark of the chip that a field most likely comes from: the place in the message where it stands and the kind of chip; null when it stands alone.
 * A thermometer beside a shunt in one message is another chip, and its faults are its own.
 */
export function chipOf({ source, pointer, rule }: CompiledSource): string | null {
  const kind = AIR.has(rule.quantity) ? 'air' : SHUNT.has(rule.quantity) ? 'shunt' : null;
  if (kind === null) return null;
  if (source.format === 'json') return pointer === null ? null : JSON.stringify([kind, ...pointer.slice(0, -1)]);
  if (source.format === 'senml') return JSON.stringify([kind, source.name?.replace(/[^:/.]*$/, '') ?? '']);
  return null;
}
