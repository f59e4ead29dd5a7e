/** Where a cut text may be closed: its length there, and the brackets that are open. */
interface Safe {
  readonly length: number;
  readonly open: string;
}

/**
 * The head of a JSON text as a JSON text: cut back to the last value that came whole, with the brackets that were open closed.
 * A text that is no JSON, or of which no value came whole, stays none. Cannot throw.
 */
export function closeJson(head: string): string {
  let open = '';
  let inString = false;
  let safe: Safe | null = null;
  for (let i = 0; i < head.length; i++) {
    const mark = head[i];
    if (inString) {
      if (mark === '\\') i++;
      else if (mark === '"') inString = false;
    } else if (mark === '"') inString = true;
    // A comma ends the value before it; so does a bracket that closes.
    else if (mark === ',') safe = { length: i, open };
    else if (mark === '{' || mark === '[') open += mark === '{' ? '}' : ']';
    else if (mark === '}' || mark === ']') {
      open = open.slice(0, -1);
      safe = { length: i + 1, open };
    }
  }
  return safe === null ? head : head.slice(0, safe.length) + [...safe.open].reverse().join('');
}
