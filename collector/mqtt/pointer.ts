/**
 * An RFC 6901 pointer as its reference tokens, unescaped; '' is the whole document (no tokens). Null when it is no pointer.
 * @source Bryan, P., Zyp, K., Nottingham, M. (2013): JavaScript Object Notation (JSON) Pointer. RFC 6901.
 */
export function parsePointer(pointer: string): readonly string[] | null {
  if (pointer === '') return [];
  if (!pointer.startsWith('/')) return null;
  return pointer
    .slice(1)
    .split('/')
    .map((token) => token.replaceAll('~1', '/').replaceAll('~0', '~'));
}

/** What stands at the pointer, `undefined` when nothing does. Own properties only, so no name reaches a prototype; array indices without leading zeros. */
export function resolvePointer(root: unknown, tokens: readonly string[]): unknown {
  let here: unknown = root;
  for (const token of tokens) {
    if (typeof here !== 'object' || here === null) return undefined;
    if (Array.isArray(here)) {
      if (!/^(0|[1-9]\d{0,8})$/.test(token)) return undefined;
      here = here[Number(token)];
    } else {
      if (!Object.hasOwn(here, token)) return undefined;
      here = (here as Record<string, unknown>)[token];
    }
  }
  return here;
}
