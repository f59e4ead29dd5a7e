import { type Document, isMap, isScalar, visit } from 'yaml';
import type { Issue } from '../../shared/errors.ts';
import { editDistance } from '../../shared/nearest.ts';
import { printable } from '../mqtt/printable.ts';
import type { Places } from './places.ts';
import { keysAt } from './schema-tree.ts';

/** Keys that would reach an object's prototype. */
const RESERVED: ReadonlySet<string> = new Set(['__proto__', 'constructor', 'prototype']);

/**
 * A signal name that is none of ours and one or two letters away from one that is not used: most likely misspelt. A digit more is a second
 * sensor, and another first letter another word: a tank is no bank.
 */
function misspelt(name: string, given: readonly string[]): string | null {
  const known = keysAt(['signals']);
  if (known.includes(name) || /\d/.test(name)) return null;
  return known.find((other) => other[0] === name[0] && !given.includes(other) && editDistance(name, other) <= 2) ?? null;
}

/** Mistakes in keys that the schema alone lets pass: reserved names, and signals named almost like one of ours. */
export function keyIssues(document: Document, places: Places): Issue[] {
  const issues: Issue[] = [];
  visit(document, {
    Pair(_, pair) {
      const name = isScalar(pair.key) ? String(pair.key.value) : '';
      if (!RESERVED.has(name)) return;
      const offset = isScalar(pair.key) ? (pair.key.range?.[0] ?? 0) : 0;
      issues.push({ place: places.atOffset(offset), path: name, got: 'a reserved name', expected: 'another key', hint: '' });
    },
  });
  const signals = document.getIn(['signals'], true);
  const names = isMap(signals) ? signals.items.map(({ key }) => (isScalar(key) ? String(key.value) : '')) : [];
  for (const name of names) {
    const near = misspelt(name, names);
    if (near === null) continue;
    issues.push({
      place: places.at(['signals', name], true),
      path: `signals.${printable(name, 96)}`,
      got: 'a signal of your own',
      expected: near,
      hint: `did you mean "${near}"?`,
    });
  }
  return issues;
}
