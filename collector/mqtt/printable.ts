/** Control, format (bidi, zero-width), surrogate, private and line-separating characters, and the backslash that escapes them. */
const UNPRINTABLE = /[\p{Cc}\p{Cf}\p{Cs}\p{Co}\p{Cn}\p{Zl}\p{Zp}\\]/gu;

/**
 * Text of strangers (topics, payloads) made safe to show or log: every unprintable character as `\u{hex}`, a backslash doubled, a space at either
 * end as `\u{20}`, so that two different texts never look the same. Not HTML-escaped: screens set it as text.
 * `limit`: longest result in characters, ending in an ellipsis when cut.
 */
export function printable(text: string, limit = 200): string {
  const head = text.length > limit * 2 ? text.slice(0, limit * 2) : text;
  const shown = head
    .replace(UNPRINTABLE, (found) => (found === '\\' ? '\\\\' : `\\u{${(found.codePointAt(0) ?? 0).toString(16)}}`))
    .replace(/^ | $/g, '\\u{20}');
  return shown.length <= limit && head.length === text.length ? shown : `${shown.slice(0, limit - 1)}…`;
}

/** Payload bytes made safe to show; bytes that are no UTF-8 show as U+FFFD. */
export function printablePayload(payload: Uint8Array, limit = 200): string {
  return printable(Buffer.from(payload.buffer, payload.byteOffset, Math.min(payload.length, limit * 4)).toString('utf8'), limit);
}
