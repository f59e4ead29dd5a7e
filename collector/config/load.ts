import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { type Document, LineCounter, parseDocument } from 'yaml';
import { AppError, type Issue, reasonOf } from '../../shared/errors.ts';
import { RigFile } from '../../shared/schema/rig-file.ts';
import { freezeDeep } from './freeze.ts';
import { issuesOf } from './issues.ts';
import { keyIssues } from './key-issues.ts';
import { byPlace, placesOf } from './places.ts';
import { aliasIssues, syntaxIssues } from './yaml-issues.ts';

/** Longest rig file, characters; a thousand signals need a tenth of it. */
const MAX_CHARS = 1_000_000;
/** Aliases that a file may unfold to; a few bytes could else unfold to gigabytes. */
const MAX_ALIASES = 100;

/** A rig file in force: frozen, with the text it was read from and the hash of that text. */
export interface LoadedRigFile {
  readonly file: RigFile;
  readonly hash: string;
  readonly text: string;
}

/** The hash that tells one text of a rig file from another. */
export const hashOf = (text: string): string => createHash('sha256').update(text).digest('hex');

const invalid = (fileName: string, issues: readonly Issue[], cause?: unknown): AppError =>
  new AppError('RIG_FILE_INVALID', `${fileName} has ${issues.length === 1 ? 'a mistake' : `${issues.length} mistakes`}:\n${describeIssues(issues)}`, {
    issues,
    cause,
  });

/** Mistakes for a terminal, a line each: place, path, what was got, what was expected, what to do. */
export function describeIssues(issues: readonly Issue[]): string {
  return issues
    .map(({ place, path, got, expected, hint }) => {
      const where = [place, path].filter((part) => part !== '').join(' ');
      return `${where}: got ${got}, expected ${expected}${hint === '' ? '' : `; ${hint}`}`;
    })
    .join('\n');
}

/** Text to a YAML document, kept with its comments. Throws RIG_FILE_INVALID for what is no YAML: syntax, tabs, duplicate keys. */
export function parseYaml(text: string, fileName: string): { document: Document; lines: LineCounter } {
  if (text.length > MAX_CHARS)
    throw invalid(fileName, [{ place: fileName, path: '', got: `${text.length} characters`, expected: `at most ${MAX_CHARS}`, hint: '' }]);
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, uniqueKeys: true });
  if (document.errors.length === 0) return { document, lines };
  const places = placesOf(document, lines, fileName);
  throw invalid(fileName, syntaxIssues(document, text, places));
}

/**
 * A rig file's text to its checked, frozen content in the units kept. `fileName` stands in the places of mistakes.
 * Throws RIG_FILE_INVALID with every mistake at once, in the order of the file.
 */
export function parseRigFile(text: string, fileName: string): RigFile {
  const { document, lines } = parseYaml(text, fileName);
  const places = placesOf(document, lines, fileName);
  const unresolved = aliasIssues(document, places);
  if (unresolved.length > 0) throw invalid(fileName, unresolved);
  let content: unknown;
  try {
    content = document.toJS({ maxAliasCount: MAX_ALIASES });
  } catch (error) {
    throw invalid(fileName, [{ place: places.at([]), path: '', got: reasonOf(error), expected: 'fewer aliases', hint: '' }], error);
  }
  const parsed = RigFile.safeParse(content);
  const issues = [...keyIssues(document, places), ...(parsed.success ? [] : issuesOf(parsed.error, document, places))];
  if (!parsed.success || issues.length > 0) throw invalid(fileName, issues.sort(byPlace));
  return freezeDeep(parsed.data);
}

/** Reads and checks a rig file. RIG_FILE_MISSING when it cannot be read, RIG_FILE_INVALID when it does not fit the schema. */
export async function loadRigFile(path: string): Promise<LoadedRigFile> {
  let text: string;
  try {
    text = await readFile(path, 'utf8');
  } catch (error) {
    throw new AppError(
      'RIG_FILE_MISSING',
      (error as NodeJS.ErrnoException).code === 'ENOENT'
        ? `there is no rig file ${path}; name one with --rig, or add --new to set a rig up with a new one`
        : `cannot read the rig file ${path}: ${reasonOf(error)}`,
      { cause: error },
    );
  }
  return { file: parseRigFile(text, basename(path)), hash: hashOf(text), text };
}
