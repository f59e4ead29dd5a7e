import ts from 'typescript';
import { describe, expect, test } from 'vitest';
import { type SourceFile, sourceFiles } from './helpers/source-files.ts';

/** Who may import whom; a part may always import itself. */
const MAY_IMPORT: Readonly<Record<string, readonly string[]>> = {
  shared: [],
  engine: ['shared'],
  collector: ['shared'],
  'dashboard/server': ['shared'],
  'dashboard/web': ['shared'],
  deploy: ['shared', 'engine', 'collector', 'dashboard/server'],
};
const PARTS = Object.keys(MAY_IMPORT);
const files = PARTS.flatMap((part) => sourceFiles(part));
const partOf = (path: string) => PARTS.find((part) => path.startsWith(`${part}/`)) ?? null;

/** What engine/ may not name: clocks, timers, the process, the network, randomness of its own. */
const IMPURE = new Set(
  'setTimeout setInterval setImmediate queueMicrotask performance process fetch crypto globalThis global require console WebSocket'.split(' '),
);

/** Impure uses in one file, each as `line: text`. */
function impurities(file: SourceFile): string[] {
  const found: string[] = [];
  const note = (node: ts.Node) => {
    const { line } = file.ast.getLineAndCharacterOfPosition(node.getStart());
    found.push(`${file.path}:${line + 1}: ${node.getText()}`);
  };
  const visit = (node: ts.Node): void => {
    if (ts.isPropertyAccessExpression(node) && ['Date.now', 'Math.random'].includes(node.getText())) note(node);
    else if (ts.isNewExpression(node) && node.expression.getText() === 'Date' && !node.arguments?.length) note(node);
    else if (ts.isCallExpression(node) && node.expression.getText() === 'Date') note(node);
    else if (ts.isIdentifier(node) && IMPURE.has(node.text) && isFreeName(node)) note(node);
    ts.forEachChild(node, visit);
  };
  visit(file.ast);
  return found;
}

/** True where an identifier names a variable, not a property or a key. */
function isFreeName(node: ts.Identifier): boolean {
  const { parent } = node;
  if (ts.isPropertyAccessExpression(parent)) return parent.expression === node;
  return !(ts.isPropertyAssignment(parent) || ts.isPropertySignature(parent) || ts.isPropertyDeclaration(parent) || ts.isQualifiedName(parent));
}

/** The first circle of run-time imports, as a list of paths; null when there is none. */
function firstCycle(all: readonly SourceFile[]): string[] | null {
  const byPath = new Map(all.map((file) => [file.path, file]));
  const done = new Set<string>();
  const walk = (path: string, trail: readonly string[]): string[] | null => {
    if (trail.includes(path)) return [...trail.slice(trail.indexOf(path)), path];
    if (done.has(path)) return null;
    for (const { target, typeOnly } of byPath.get(path)?.imports ?? []) {
      const cycle = target === null || typeOnly ? null : walk(target, [...trail, path]);
      if (cycle) return cycle;
    }
    done.add(path);
    return null;
  };
  for (const file of all) {
    const cycle = walk(file.path, []);
    if (cycle) return cycle;
  }
  return null;
}

describe('the parts and what they may know of each other', () => {
  test('there is something to look at in every part', () => {
    expect(PARTS.filter((part) => !files.some((file) => partOf(file.path) === part))).toEqual([]);
  });

  test.each(PARTS)('%s imports only what it may', (part) => {
    const allowed = new Set([part, ...(MAY_IMPORT[part] ?? [])]);
    const wrong = files
      .filter((file) => partOf(file.path) === part)
      .flatMap((file) =>
        file.imports.filter(({ target }) => target !== null && !allowed.has(partOf(target) ?? 'nothing')).map(({ specifier }) => `${file.path}: ${specifier}`),
      );
    expect(wrong).toEqual([]);
  });

  test('shared imports no package but zod', () => {
    const packages = files.filter((file) => partOf(file.path) === 'shared').flatMap((file) => file.imports.filter(({ target }) => target === null));
    expect(packages.filter(({ specifier }) => specifier !== 'zod')).toEqual([]);
  });

  test.each(['engine', 'shared', 'dashboard/web/src'])('%s needs nothing of Node', (folder) => {
    const wrong = sourceFiles(folder).flatMap((file) =>
      file.imports.filter(({ specifier }) => specifier.startsWith('node:')).map(({ specifier }) => `${file.path}: ${specifier}`),
    );
    expect(wrong).toEqual([]);
  });

  test('imports within the project name the file with its ending', () => {
    const wrong = files.flatMap((file) =>
      file.imports
        .filter(({ target }) => target !== null && !/\.(ts|svelte|mjs|css|json)(\?\w+)?$/.test(target))
        .map(({ specifier }) => `${file.path}: ${specifier}`),
    );
    expect(wrong).toEqual([]);
  });

  test('no circle of imports', () => {
    expect(firstCycle(files)).toBeNull();
  });
});

describe('engine/ is pure', () => {
  test('it names no clock, timer, process, network or randomness of its own', () => {
    expect(sourceFiles('engine').flatMap(impurities)).toEqual([]);
  });
});

describe('the screens', () => {
  const screens = sourceFiles('dashboard/web/src');
  test('a component is short', () => {
    const long = screens.filter(({ path, text }) => path.endsWith('.svelte') && text.split('\n').length > 200).map(({ path }) => path);
    expect(long).toEqual([]);
  });

  test('one component knows the chart library', () => {
    const who = screens.filter((file) => file.imports.some(({ specifier, typeOnly }) => specifier === 'uplot' && !typeOnly)).map(({ path }) => path);
    expect(who).toEqual(['dashboard/web/src/charts/Plot.svelte']);
  });

  test('colours stand in one file', () => {
    const styled = screens.filter(
      ({ path, text }) => path.endsWith('.svelte') && /#[0-9a-f]{3,8}\b|\b(rgb|hsl)a?\(/i.test(/<style>[\s\S]*/.exec(text)?.[0] ?? ''),
    );
    expect(styled.map(({ path }) => path)).toEqual([]);
  });
});
