/** A record of a pack with its base fields resolved. */
export interface SenmlRecord {
  /** Base name and name joined. */
  readonly name: string;
  readonly unit: string | null;
  /** Number (base value added), text, boolean; null for a record without a value. */
  readonly value: number | string | boolean | null;
  /** Epoch ms, relative times resolved against arrival; null when the pack gives no time, which means now. */
  readonly timeMs: number | null;
  /** The time was given as so long before or after arrival: it says nothing of the board's clock. */
  readonly isRelative: boolean;
}

/** Times below this many seconds are relative to now (RFC 8428 section 4.5.3). */
const RELATIVE_BELOW_S = 2 ** 28;
/** The version that RFC 8428 describes; packs of a higher one must not be read. */
const VERSION = 10;
const MAX_RECORDS = 2048;

type Fields = Readonly<Record<string, unknown>>;

const isNumber = (value: unknown): value is number => typeof value === 'number' && Number.isFinite(value);
const isText = (value: unknown): value is string => typeof value === 'string';

/** A field of the right kind, `absent` when it is not there, null when it is of a wrong kind. */
function field<T, A>(record: Fields, key: string, is: (value: unknown) => value is T, absent: A): T | A | null {
  if (!Object.hasOwn(record, key)) return absent;
  const value = record[key];
  return is(value) ? value : null;
}

function resolvedValue(record: Fields, baseValue: number | null): SenmlRecord['value'] | undefined {
  if (Object.hasOwn(record, 'v')) return isNumber(record.v) ? record.v + (baseValue ?? 0) : record.v === null ? null : undefined;
  if (Object.hasOwn(record, 'vs')) return isText(record.vs) ? record.vs : undefined;
  if (Object.hasOwn(record, 'vb')) return typeof record.vb === 'boolean' ? record.vb : undefined;
  return baseValue;
}

/**
 * The records of a SenML JSON pack with base name, time, unit and value resolved; null when it is no such pack.
 * Records without a name of their own and without a value only set the base. Cannot throw.
 * @source Jennings, C., Shelby, Z., Arkko, J., Keranen, A., Bormann, C. (2018): Sensor Measurement Lists (SenML). RFC 8428, sections 4 and 5.
 */
export function resolveSenml(pack: unknown, arrivalMs: number): readonly SenmlRecord[] | null {
  if (!Array.isArray(pack) || pack.length === 0 || pack.length > MAX_RECORDS) return null;
  const records: SenmlRecord[] = [];
  let base = { name: '', timeS: 0, unit: null as string | null, value: null as number | null };
  for (const item of pack as unknown[]) {
    if (typeof item !== 'object' || item === null || Array.isArray(item)) return null;
    const record = item as Fields;
    // A label ending in "_" must be understood or the pack not be read.
    if (Object.keys(record).some((key) => key.endsWith('_'))) return null;
    const version = field(record, 'bver', isNumber, VERSION);
    const name = field(record, 'bn', isText, base.name);
    const timeS = field(record, 'bt', isNumber, base.timeS);
    const unit = Object.hasOwn(record, 'bu') && !isText(record.bu) ? undefined : (field(record, 'bu', isText, base.unit) as string | null);
    const value = Object.hasOwn(record, 'bv') && !isNumber(record.bv) ? undefined : (field(record, 'bv', isNumber, base.value) as number | null);
    if (version === null || version > VERSION || name === null || timeS === null || unit === undefined || value === undefined) return null;
    base = { name, timeS, unit, value };
    const own = field(record, 'n', isText, '');
    const ownTimeS = field(record, 't', isNumber, 0);
    const ownUnit = field(record, 'u', isText, undefined);
    const resolved = resolvedValue(record, Object.hasOwn(record, 'n') ? value : null);
    if (own === null || ownTimeS === null || ownUnit === null || resolved === undefined) return null;
    if (!Object.hasOwn(record, 'n') && resolved === null) continue;
    const atS = base.timeS + ownTimeS;
    const timeMs = atS === 0 ? null : Math.round(atS < RELATIVE_BELOW_S ? arrivalMs + atS * 1000 : atS * 1000);
    records.push({ name: base.name + own, unit: ownUnit ?? base.unit, value: resolved, timeMs, isRelative: atS < RELATIVE_BELOW_S });
  }
  return records;
}
