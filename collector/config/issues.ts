import type { Document } from 'yaml';
import type { z } from 'zod';
import type { Issue } from '../../shared/errors.ts';
import { nearest } from '../../shared/nearest.ts';
import { printable } from '../mqtt/printable.ts';
import type { Places } from './places.ts';
import { keysAt } from './schema-tree.ts';

type ZodIssue = z.core.$ZodIssue;

const TYPE_WORDS: ReadonlyMap<string, string> = new Map([
  ['string', 'a text'],
  ['number', 'a number'],
  ['int', 'a whole number'],
  ['boolean', 'true or false'],
  ['array', 'a list'],
  ['tuple', 'a list of two'],
  ['object', 'a group of keys'],
  ['record', 'a group of keys'],
]);

/** A value of the file in words, short and printable. */
export function inWords(value: unknown): string {
  if (value === undefined) return 'nothing';
  if (value === null) return 'an empty value';
  // A URL may carry a password, which must not get into a log.
  if (typeof value === 'string') return `the text "${printable(value.replace(/\/\/[^/\s]*@/, '//***@'), 60)}"`;
  if (typeof value === 'number') return `the number ${value}`;
  if (typeof value === 'boolean') return String(value);
  return Array.isArray(value) ? `a list of ${value.length}` : 'a group of keys';
}

const quote = (values: readonly unknown[]): string => (values.length === 1 ? String(values[0]) : `one of ${values.map(String).join(', ')}`);

function bound(word: 'at least' | 'at most', limit: number | bigint, origin: string): string {
  if (origin === 'string') return `${word} ${limit} characters`;
  if (origin === 'array') return `a list of ${word} ${limit}`;
  return `${word} ${limit}`;
}

/** What was expected, in words. Messages of the schema's own say it themselves. */
function expectedBy(issue: ZodIssue): string {
  switch (issue.code) {
    case 'invalid_type':
      return issue.message.startsWith('Invalid input') ? (TYPE_WORDS.get(issue.expected) ?? issue.expected) : issue.message;
    case 'too_small':
      return bound('at least', issue.minimum, issue.origin);
    case 'too_big':
      return bound('at most', issue.maximum, issue.origin);
    case 'invalid_value':
      return quote(issue.values);
    case 'invalid_union':
      return issue.message === 'Invalid input' ? quote(issue.errors.flat().flatMap((one) => (one.code === 'invalid_value' ? one.values : []))) : issue.message;
    default:
      return issue.message;
  }
}

const didYouMean = (word: string | null): string => (word === null ? '' : `did you mean "${word}"?`);

function unknownKeys(issue: Extract<ZodIssue, { code: 'unrecognized_keys' }>, places: Places): Issue[] {
  const keys = keysAt(issue.path);
  return issue.keys.map((key) => ({
    // The issue points at the group; the person looks for the key.
    place: places.at([...issue.path, key], true),
    path: [...issue.path.map(String), printable(key, 60)].join('.'),
    got: 'an unknown key',
    expected: `one of ${keys.join(', ')}`,
    hint: didYouMean(nearest(key, keys)),
  }));
}

/** What a check of the schema says beside what it expects. */
function saidBy(issue: ZodIssue): { readonly got?: string; readonly hint?: string } {
  return issue.code === 'custom' ? (issue.params ?? {}) : {};
}

function gotIn(issue: ZodIssue, value: unknown): string {
  const { got } = saidBy(issue);
  return got === undefined ? inWords(value) : printable(got, 300);
}

function hintFor(issue: ZodIssue, value: unknown, document: Document): string {
  const { hint } = saidBy(issue);
  if (hint !== undefined) return printable(hint, 160);
  if (issue.code === 'invalid_value' && typeof value === 'string') return didYouMean(nearest(value, issue.values.map(String)));
  if (issue.path[0] !== 'signals' || issue.code !== 'custom') return '';
  const format = /^format: (json|senml) beside it$/.exec(issue.message)?.[1];
  if (format !== undefined) return `add "format: ${format}", or leave this out`;
  const name = String(issue.path[1] ?? '');
  // A signal that is missing: perhaps it stands there misspelt.
  const given = document.getIn(['signals']) as { items?: readonly { key: unknown }[] } | undefined;
  const names = (given?.items ?? []).map(({ key }) => String(key));
  if (issue.path.length === 2 && !names.includes(name)) {
    const near = nearest(
      name,
      names.filter((other) => !keysAt(['signals']).includes(other)),
    );
    return near === null ? '' : `is "${printable(near, 60)}" meant to be it?`;
  }
  const unknownName = issue.path.length === 2 || issue.path[2] === 'unit';
  return unknownName && !keysAt(['signals']).includes(name) ? didYouMean(nearest(name, keysAt(['signals']))) : '';
}

/** The schema's issues as mistakes with their places in the file. */
export function issuesOf(error: z.ZodError, document: Document, places: Places): Issue[] {
  return error.issues.flatMap((issue) => {
    if (issue.code === 'unrecognized_keys') return unknownKeys(issue, places);
    const path = issue.path as (string | number)[];
    const node: unknown = path.length === 0 ? document.contents : document.getIn(path);
    const value: unknown = typeof node === 'object' && node !== null && 'toJS' in node ? (node as { toJS(doc: Document): unknown }).toJS(document) : node;
    return [
      {
        place: places.at(path),
        path: path.map((part) => printable(String(part), 96)).join('.'),
        got: gotIn(issue, value),
        expected: expectedBy(issue),
        hint: hintFor(issue, value, document),
      },
    ];
  });
}
