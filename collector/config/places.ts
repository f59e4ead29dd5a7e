import { type Document, isMap, isNode, isScalar, type LineCounter, type Node } from 'yaml';

/** Where things stand in a rig file's text. */
export interface Places {
  /** `name:line:column` of the value at a path, of its key when `ofKey`; of the nearest thing above it when nothing stands there. */
  at(path: readonly PropertyKey[], ofKey?: boolean): string;
  atOffset(offset: number): string;
}

function keyNode(document: Document, path: readonly PropertyKey[]): Node | null {
  const parent = path.length === 1 ? document.contents : document.getIn(path.slice(0, -1), true);
  if (!isMap(parent)) return null;
  const pair = parent.items.find((item) => isScalar(item.key) && String(item.key.value) === String(path.at(-1)));
  return isNode(pair?.key) ? pair.key : null;
}

/** Places in a parsed document. */
export function placesOf(document: Document, lines: LineCounter, fileName: string): Places {
  const atOffset = (offset: number): string => {
    const { line, col } = lines.linePos(offset);
    return `${fileName}:${Math.max(line, 1)}:${Math.max(col, 1)}`;
  };
  return {
    atOffset,
    at(path, ofKey = false) {
      if (path.length === 0) return atOffset(document.contents?.range?.[0] ?? 0);
      const key = keyNode(document, path);
      const found = ofKey ? (key ?? document.getIn(path, true)) : document.getIn(path, true);
      // A missing key has no node: then the key of the group that lacks it.
      const node = isNode(found) ? found : key;
      return node?.range ? atOffset(node.range[0]) : this.at(path.slice(0, -1), true);
    },
  };
}

/** Orders what has a place `name:line:column` by line and column. */
export function byPlace(a: { readonly place: string }, b: { readonly place: string }): number {
  const [lineA = 0, columnA = 0] = a.place.split(':').slice(-2).map(Number);
  const [lineB = 0, columnB = 0] = b.place.split(':').slice(-2).map(Number);
  return lineA - lineB || columnA - columnB;
}
