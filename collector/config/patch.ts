import { type Document, isAlias, isCollection, isMap, isScalar, isSeq, type Node, type YAMLSeq } from 'yaml';
import { AppError, reasonOf } from '../../shared/errors.ts';
import { parseYaml } from './load.ts';

/** One change: the value at a path; `undefined` removes it. A step of the path is a key, or the entry of a list that has an id; one that is not there is added. */
export interface RigFileChange {
  readonly path: readonly (string | { readonly id: string })[];
  readonly value: unknown;
}

/** A text with a patch applied, comments kept. Throws RIG_FILE_INVALID for a path that leads through a value. */
export function patchText(text: string, patch: readonly RigFileChange[], fileName: string): string {
  if (patch.length === 0) return text;
  const { document } = parseYaml(text, fileName);
  for (const { path, value } of patch) {
    try {
      const at = placeIn(document, path, value === undefined);
      if (at === null) continue;
      if (value === undefined) document.deleteIn(at);
      else {
        openEmpty(document.getIn(at.slice(0, -1), true));
        document.setIn(at, nodeFor(document, value, document.getIn(at, true)));
      }
    } catch (error) {
      const where = path.map((step) => (typeof step === 'string' ? step : step.id)).join('.');
      const issue = { place: fileName, path: where, got: reasonOf(error), expected: 'a path of keys that can be set', hint: '' };
      throw new AppError('RIG_FILE_INVALID', `${fileName}: nothing can be set at ${issue.path}`, { cause: error, issues: [issue] });
    }
  }
  return document.toString({ lineWidth: 0 });
}

/** An empty `{}` is to be filled line by line, as a person would; all in one line nobody could read it. */
function openEmpty(parent: unknown): void {
  if (isMap(parent) && parent.items.length === 0) parent.flow = false;
}

/** A value as a node that keeps the comments of what stood in its place. */
function nodeFor(document: Document, value: unknown, before: unknown): Node {
  const node = document.createNode(value);
  if (isScalar(before) || isCollection(before)) Object.assign(node, commentsOf(before));
  return node;
}

const commentsOf = ({ comment, commentBefore, spaceBefore }: Node) => ({
  ...(comment && { comment }),
  ...(commentBefore && { commentBefore }),
  ...(spaceBefore && { spaceBefore }),
});

/** A path with the entries of lists by their number; null when what is to be removed is not there anyhow. */
function placeIn(document: Document, path: RigFileChange['path'], removes: boolean): (string | number)[] | null {
  const at: (string | number)[] = [];
  for (const [depth, step] of path.entries()) {
    if (typeof step === 'string') {
      at.push(step);
      continue;
    }
    const list = listAt(document, at, removes);
    const index = list?.items.findIndex((item) => idOf(item, document) === step.id) ?? -1;
    if (index === -1 && removes) return null;
    if (index === -1 && depth < path.length - 1) throw new TypeError(`there is no entry "${step.id}"`);
    at.push(index === -1 ? (list?.items.length ?? 0) : index);
  }
  return at;
}

/** The list at a place; where nothing stands there, a new one, unless something is to be removed. */
function listAt(document: Document, at: readonly (string | number)[], removes: boolean): YAMLSeq | null {
  const found = document.getIn(at, true);
  const node = isAlias(found) ? found.resolve(document) : found;
  if (isSeq(node)) return node;
  if (node !== undefined && document.getIn(at) !== null) throw new TypeError('no list');
  if (removes) return null;
  const list = document.createNode([]) as unknown as YAMLSeq;
  list.flow = false;
  document.setIn(at, list);
  return list;
}

function idOf(item: unknown, document: Document): unknown {
  const entry = isAlias(item) ? item.resolve(document) : item;
  return isMap(entry) ? entry.get('id') : undefined;
}
