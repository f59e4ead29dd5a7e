import type { RejectReason } from '../../shared/schema/reading.ts';

/** Deepest nesting of arrays and objects that is parsed. */
export const MAX_DEPTH = 32;

export type ParsedJson = { readonly ok: true; readonly value: unknown; readonly duplicateKey: boolean } | { readonly ok: false; readonly reason: RejectReason };

/** Counts keys (colons outside strings) and the deepest nesting without parsing, so that depth is known before `JSON.parse` sees the text. */
function scan(text: string): { depth: number; keys: number } {
  let depth = 0;
  let deepest = 0;
  let keys = 0;
  let inString = false;
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (inString) {
      if (code === 0x5c) i++;
      else if (code === 0x22) inString = false;
    } else if (code === 0x22) inString = true;
    else if (code === 0x3a) keys++;
    else if (code === 0x7b || code === 0x5b) deepest = Math.max(deepest, ++depth);
    else if (code === 0x7d || code === 0x5d) depth--;
  }
  return { depth: deepest, keys };
}

/** Keys in a parsed value. Recursion is safe: the depth was capped before. */
function countKeys(value: unknown): number {
  if (typeof value !== 'object' || value === null) return 0;
  if (Array.isArray(value)) return value.reduce((sum: number, item) => sum + countKeys(item), 0);
  let count = 0;
  for (const key of Object.keys(value)) count += 1 + countKeys((value as Record<string, unknown>)[key]);
  return count;
}

/**
 * JSON text to a value; never throws. Of duplicate keys the last one counts (as `JSON.parse` has it), and `duplicateKey` says that there were some:
 * the text then names more keys than the value holds. `too-deep` before parsing, `bad-json` for text that is no JSON.
 */
export function parseJson(text: string): ParsedJson {
  const { depth, keys } = scan(text);
  if (depth > MAX_DEPTH) return { ok: false, reason: 'too-deep' };
  try {
    const value: unknown = JSON.parse(text);
    return { ok: true, value, duplicateKey: keys > 1 && countKeys(value) !== keys };
  } catch {
    return { ok: false, reason: 'bad-json' };
  }
}
