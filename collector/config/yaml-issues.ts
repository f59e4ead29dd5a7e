import { type Document, isAlias, isScalar, visit, type YAMLParseError } from 'yaml';
import type { Issue } from '../../shared/errors.ts';
import { printable } from '../mqtt/printable.ts';
import type { Places } from './places.ts';

interface Words {
  readonly got: string;
  readonly expected: string;
  readonly hint: string;
}

/** What a mistake of syntax is called, by the library's code and, where one code stands for several, by a word of its message. */
const WORDS: readonly (readonly [code: string, word: RegExp, words: Words])[] = [
  ['TAB_AS_INDENT', /./, { got: 'a tab', expected: 'spaces before a key', hint: 'indent with spaces' }],
  ['DUPLICATE_KEY', /./, { got: 'a key that stands in its group already', expected: 'each key once', hint: 'keep one of them' }],
  ['BAD_INDENT', /end with a \}/, { got: 'the end of a group in braces', expected: 'a } that closes it', hint: '' }],
  ['BAD_INDENT', /end with a \]/, { got: 'the end of a list in brackets', expected: 'a ] that closes it', hint: '' }],
  ['BAD_INDENT', /./, { got: 'a line that begins in a column of its own', expected: 'all keys of a group, or entries of a list, in one column', hint: '' }],
  [
    'BLOCK_AS_IMPLICIT_KEY',
    /./,
    { got: 'a second ":" on one line', expected: 'one key and one value', hint: 'put a value with ": " in quotes, or several keys in braces' },
  ],
  ['BAD_DQ_ESCAPE', /./, { got: 'a backslash in a text in double quotes', expected: 'an escape such as \\n', hint: 'use single quotes' }],
  ['MULTIPLE_DOCS', /./, { got: 'a second document after ---', expected: 'one', hint: '' }],
  ['MISSING_CHAR', /Missing ,/, { got: 'two entries without a comma', expected: 'a comma between them', hint: '' }],
  ['MISSING_CHAR', /space after :/, { got: 'a ":" without a space', expected: 'key: value', hint: '' }],
  ['MISSING_CHAR', /Comments/, { got: 'a # within a word', expected: 'a space before a comment', hint: 'put a value with # in quotes' }],
  ['MISSING_CHAR', /map values/, { got: 'a line without a ":"', expected: 'key: value', hint: '' }],
  ['MULTILINE_IMPLICIT_KEY', /./, { got: 'a line without a ":"', expected: 'key: value', hint: '' }],
];

/** The start of a text whose closing quote is missing, told by where it ends; null for other mistakes. */
function openQuote(document: Document, error: YAMLParseError): { offset: number; quote: string } | null {
  if (error.code !== 'MISSING_CHAR' || !/Missing closing/.test(error.message)) return null;
  let offset: number | null = null;
  let quote = '"';
  const note = (_: unknown, node: unknown) => {
    if (!isScalar(node) || !node.range || (node.type !== 'QUOTE_DOUBLE' && node.type !== 'QUOTE_SINGLE') || node.range[1] < error.pos[0]) return;
    offset = node.range[0];
    quote = node.type === 'QUOTE_DOUBLE' ? '"' : "'";
  };
  visit(document, { Scalar: note });
  return offset === null ? null : { offset, quote };
}

/** Mistakes of syntax in plain words. Of several on a line the first: the others mostly follow from it. */
export function syntaxIssues(document: Document, text: string, places: Places): Issue[] {
  const issues = new Map<string, Issue>();
  for (const error of document.errors) {
    const open = openQuote(document, error);
    // All that follows stood within the quotes.
    if (open !== null)
      return [
        { place: places.atOffset(open.offset), path: '', got: `a text that begins with ${open.quote}`, expected: `a ${open.quote} at its end`, hint: '' },
      ];
    const place = places.atOffset(error.pos[0]);
    const line = place.slice(0, place.lastIndexOf(':'));
    if (!issues.has(line)) issues.set(line, { place, path: '', ...wordsOf(error, text) });
  }
  return [...issues.values()];
}

function wordsOf({ code, message, pos }: YAMLParseError, text: string): Words {
  const known = WORDS.find(([of, word]) => of === code && word.test(message));
  if (known) return known[2];
  // One word alone: a whole line may hold a password.
  const rest = printable(/^(?:[^\s:/@]+|.)/.exec(text.slice(pos[0]).trimStart())?.[0] ?? '', 30);
  if (code === 'BAD_SCALAR_START') return { got: `a value that begins with ${rest.slice(0, 1)}`, expected: 'a text', hint: 'put it in quotes' };
  const got = rest === '' ? 'something unreadable' : `"${rest}" where it does not belong`;
  return { got, expected: 'key: value', hint: 'look before it for a bracket, a comma or a quote too many or too few' };
}

/** Aliases that name no anchor before them. */
export function aliasIssues(document: Document, places: Places): Issue[] {
  const issues: Issue[] = [];
  visit(document, {
    Alias(_, node) {
      if (!isAlias(node) || node.resolve(document) !== undefined) return;
      const name = printable(node.source, 30);
      issues.push({
        place: places.atOffset(node.range?.[0] ?? 0),
        path: '',
        got: `*${name}, which stands for nothing`,
        expected: `a &${name} before it`,
        hint: 'put a text with * in quotes',
      });
    },
  });
  return issues;
}
