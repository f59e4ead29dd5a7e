import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';

/** Folder of the whole project. */
export const ROOT = fileURLToPath(new URL('../..', import.meta.url));

/** One import of a file: what stands in the source, and the project file it means (null for a package). */
export interface Import {
  readonly specifier: string;
  readonly target: string | null;
  /** True when nothing of it is left at run time. */
  readonly typeOnly: boolean;
}

/** A source file with its imports; paths are relative to the project, with forward slashes. */
export interface SourceFile {
  readonly path: string;
  readonly text: string;
  readonly ast: ts.SourceFile;
  readonly imports: readonly Import[];
}

/** Every source file below a folder of the project. */
export function sourceFiles(folder: string): SourceFile[] {
  const names = readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' });
  return names
    .filter((name) => /\.(ts|svelte|mjs)$/.test(name) && !/\.d\.ts$|(^|\/)node_modules\//.test(name))
    .map((name) => read(join(folder, name)))
    .sort((a, b) => (a.path < b.path ? -1 : 1));
}

function read(path: string): SourceFile {
  const text = readFileSync(join(ROOT, path), 'utf8');
  const script = path.endsWith('.svelte') ? [...text.matchAll(/<script[^>]*>([\s\S]*?)<\/script>/g)].map((match) => match[1]).join('\n') : text;
  const ast = ts.createSourceFile(path, script, ts.ScriptTarget.Latest, true, ts.ScriptKind.TS);
  return { path, text, ast, imports: importsOf(ast, path) };
}

function importsOf(ast: ts.SourceFile, path: string): Import[] {
  const found: Import[] = [];
  const add = (specifier: string, typeOnly: boolean) => {
    const target = specifier.startsWith('.') ? relative(ROOT, resolve(ROOT, dirname(path), specifier)) : null;
    found.push({ specifier, target, typeOnly });
  };
  const visit = (node: ts.Node): void => {
    if (ts.isImportDeclaration(node) && ts.isStringLiteral(node.moduleSpecifier)) {
      add(node.moduleSpecifier.text, node.importClause?.phaseModifier === ts.SyntaxKind.TypeKeyword);
    } else if (ts.isExportDeclaration(node) && node.moduleSpecifier && ts.isStringLiteral(node.moduleSpecifier)) {
      add(node.moduleSpecifier.text, node.isTypeOnly);
    } else if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument) && ts.isStringLiteral(node.argument.literal)) {
      add(node.argument.literal.text, true);
    } else if (ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword) {
      const [argument] = node.arguments;
      if (argument && ts.isStringLiteral(argument)) add(argument.text, false);
    }
    ts.forEachChild(node, visit);
  };
  visit(ast);
  return found;
}
