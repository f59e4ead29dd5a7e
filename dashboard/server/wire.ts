import type { z } from 'zod';
import { AppError, type Issue } from '../../shared/errors.ts';

type Schema<T> = { safeParse(value: unknown): z.ZodSafeParseResult<T> };

/**
 * What came in, by its schema.
 * @throws AppError REQUEST_INVALID with every mistake; nothing of the request's text is repeated
 */
export function incoming<T>(schema: Schema<T>, value: unknown): T {
  const result = schema.safeParse(value);
  if (result.success) return result.data;
  const issues = result.error.issues.map((issue) => asIssue(issue, value));
  const first = issues[0];
  throw new AppError('REQUEST_INVALID', `${first?.path || 'the request'}: got ${first?.got}, expected ${first?.expected}`, { issues });
}

/**
 * What goes out, by its schema. Numbers that are not finite become null first, as JSON has none; where the schema has no null, it fails.
 * @throws AppError INTERNAL: what the rig handed over does not fit its contract
 */
export function outgoing<T>(schema: Schema<T>, value: unknown): T {
  const result = schema.safeParse(finite(value));
  if (result.success) return result.data;
  const where = result.error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`).join('; ');
  throw new AppError('INTERNAL', `an answer does not fit its schema: ${where}`);
}

/** The same data with null for every number that is not finite; the very same object where there is none. */
export function finite(value: unknown): unknown {
  if (typeof value === 'number') return Number.isFinite(value) ? value : null;
  if (Array.isArray(value)) {
    const items = value.map(finite);
    return items.some((item, i) => item !== value[i]) ? items : value;
  }
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value);
  const cleaned = entries.map(([key, item]) => [key, finite(item)] as const);
  return cleaned.some(([, item], i) => item !== entries[i]?.[1]) ? Object.fromEntries(cleaned) : value;
}

/** A mistake without the text that was sent: paths are the schema's own keys, values are named by their kind. */
function asIssue(issue: z.core.$ZodIssue, request: unknown): Issue {
  const at = issue.path.reduce<unknown>((value, key) => (typeof value === 'object' && value !== null ? Reflect.get(value, key) : undefined), request);
  return { place: '', path: issue.path.join('.'), got: kindOf(at), expected: expectedBy(issue), hint: '' };
}

function expectedBy({ code, message }: z.core.$ZodIssue): string {
  if (code === 'unrecognized_keys') return 'no keys beside those of this request';
  if (code === 'invalid_union') return 'one of the kinds that this version knows';
  return message.replace(/^[A-Z][\w ]+: expected /, '').replace(/, received .*$/, '');
}

function kindOf(value: unknown): string {
  if (value === undefined) return 'nothing';
  if (typeof value === 'string') return `a text of ${value.length} characters`;
  if (Array.isArray(value)) return 'a list';
  return value === null ? 'null' : typeof value === 'number' ? 'another number' : `a value of type ${typeof value}`;
}
