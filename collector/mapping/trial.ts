import { Document } from 'yaml';
import { RigFile, type SignalSource, type SignalSpec, signalQuantity } from '../../shared/schema/rig-file.ts';
import type { MappingQuestion, MappingTrial } from '../../shared/schema/sensor-book.ts';
import { isSignalName } from '../../shared/signals.ts';
import { UNIT_OF } from '../../shared/units.ts';
import { issuesOf } from '../config/issues.ts';
import { isPowerOnValue, isSentinel } from '../ingest/known-values.ts';
import { bankLimitsOf, clamped, limitsOf, withinLimits } from '../ingest/limits.ts';
import { compileSource, type Decoded, decodeOpened } from '../mqtt/decode.ts';
import { openPayload } from '../mqtt/payload.ts';
import { doubtOf } from './doubt.ts';
import { decodable, type Remembered } from './remembered.ts';

type Mistake = MappingTrial['mistakes'][number];

const NOTHING: MappingTrial = { value: null, unit: '', quantity: '', tMs: null, rejected: null, remarks: [], doubt: '', mistakes: [] };
/** Mistakes on a screen stand beside their fields, not at a place of a file. */
const NO_PLACES = { at: () => '', atOffset: () => '' };
const DOUBT_CHARS = 200;

/** A mapping by the rig file's own schema: as it would be read from there, or its mistakes. */
function checked({ signal, spec }: MappingQuestion): SignalSpec | Mistake[] {
  if (!isSignalName(signal))
    return [
      { path: 'signal', got: 'this name', expected: 'a name such as bank.voltage, load.fridge.power or tank.level', hint: 'small letters, digits and hyphens' },
    ];
  const content = { signals: { [signal]: spec } };
  const parsed = RigFile.shape.signals.safeParse(content.signals);
  const known = parsed.success ? parsed.data.specs.get(signal) : undefined;
  if (known) return known;
  if (parsed.success) return [{ path: '', got: 'no mapping', expected: 'a topic and how it is read', hint: '' }];
  const inFile = { ...parsed.error, issues: parsed.error.issues.map((issue) => ({ ...issue, path: ['signals', ...issue.path] })) };
  const before = `signals.${signal}.`;
  return issuesOf(inFile as typeof parsed.error, new Document(content), NO_PLACES).map(({ path, got, expected, hint }) => ({
    path: path.startsWith(before) ? path.slice(before.length) : path,
    got,
    expected,
    hint,
  }));
}

/** What one source makes of the last message of its topic. */
function triedSource(signal: string, spec: SignalSpec, source: SignalSource, file: RigFile, last: Remembered): MappingTrial {
  const quantity = signalQuantity(signal, spec);
  if (quantity === null) return NOTHING;
  const base = { ...NOTHING, unit: UNIT_OF[quantity], quantity, tMs: Math.round(last.lastMs) };
  const range = source.range ?? spec.range;
  const compiled = compileSource(range === undefined ? source : { ...source, range }, quantity);
  const found: Decoded | readonly Decoded[] = decodeOpened(openPayload(decodable(last)), compiled, last.lastMs);
  const decoded = 'length' in found ? (found.at(-1) ?? { ok: false as const, reason: 'no-such-field' as const }) : found;
  if (!decoded.ok) {
    const doubt = last.isCut ? 'The message is longer than what is remembered of it; it may still be right.' : '';
    return { ...base, rejected: decoded.reason, doubt };
  }
  const { raw, value, remarks } = decoded;
  const limits = limitsOf(signal, compiled, bankLimitsOf(file));
  const isPowerOn = isPowerOnValue(raw, value, compiled);
  const tried = { signal, quantity, unit: compiled.rule.unit, raw, value, range: limits.kept, cells: file.bank.cells, isPowerOn };
  const doubt = doubtOf(tried).slice(0, DOUBT_CHARS);
  if (isSentinel(raw, value, compiled)) return { ...base, rejected: 'sentinel', remarks: [...remarks] };
  const isWithin = isPowerOn || withinLimits(raw, value, compiled, limits);
  return { ...base, value: isWithin ? clamped(value, limits) : value, rejected: isWithin ? null : 'out-of-range', remarks: [...remarks], doubt };
}

/**
 * What a mapping gives for the last message of its topic, by the decoder and the limits that would read it; changes nothing. A sum has a value when all
 * its parts have. A value out of range is shown with its rejection. Cannot throw.
 */
export function tryMapping(question: MappingQuestion, file: RigFile, lastOf: (topic: string) => Remembered | null): MappingTrial {
  const spec = checked(question);
  if ('length' in spec) return { ...NOTHING, mistakes: spec };
  const quantity = signalQuantity(question.signal, spec);
  const known = quantity === null ? NOTHING : { ...NOTHING, unit: UNIT_OF[quantity], quantity };
  const sources = spec.sum ?? (spec.topic === undefined ? [] : [{ ...spec, topic: spec.topic }]);
  const trials = sources.map((source) => {
    const last = lastOf(source.topic);
    return last === null ? { ...known, doubt: 'No message of this topic has been heard yet.' } : triedSource(question.signal, spec, source, file, last);
  });
  const first = trials.find(({ rejected, value }) => rejected !== null || value === null) ?? trials[0] ?? known;
  if (trials.length < 2 || first.value === null || first.rejected !== null) return first;
  return { ...first, value: trials.reduce((sum, { value }) => sum + (value ?? 0), 0), tMs: Math.min(...trials.map(({ tMs }) => tMs ?? 0)) };
}
