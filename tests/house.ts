/** How large and how plain the code is: `npm run house`, or `npm run house -- FOLDER` for another checkout. */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';

const FOLDERS = ['app', 'renderer'];
const isTest = (file: string): boolean => /\.test\.tsx?$/.test(file);

/** What is found in some files; `at` is file and line. */
interface Count {
  functions: { name: string; at: string; lines: number }[];
  /** Non-null assertions, and whether a comment stands on their line or the one above. */
  assertions: { at: string; reason: boolean }[];
  nestedTernaries: number;
  instanceofs: number;
  casts: number;
}

/** All files below a folder, as paths from the root. */
export function filesIn(root: string, folder: string): string[] {
  return readdirSync(path.join(root, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => path.relative(root, path.join(entry.parentPath, entry.name)));
}

/** The code of app and renderer, without tests. */
export const codeOf = (root: string): string[] =>
  FOLDERS.flatMap((folder) => filesIn(root, folder)).filter((file) => /\.tsx?$/.test(file) && !isTest(file));

function nameOf(node: ts.Node): string {
  const named = ts.isArrowFunction(node) || ts.isFunctionExpression(node) ? (nameHolder(node) ?? node) : node;
  if (ts.isConstructorDeclaration(named)) return 'constructor';
  const name = 'name' in named ? (named as ts.NamedDeclaration).name : undefined;
  return name ? name.getText() : '(without a name)';
}

/** The variable, property or call such as `useCallback` in a variable that gives a function its name. */
function nameHolder(node: ts.Node): ts.Node | undefined {
  const { parent } = node;
  if (ts.isVariableDeclaration(parent) || ts.isPropertyAssignment(parent) || ts.isPropertyDeclaration(parent))
    return parent;
  return ts.isCallExpression(parent) && ts.isVariableDeclaration(parent.parent) ? parent.parent : undefined;
}

function isNestedTernary(node: ts.Node): boolean {
  if (!ts.isConditionalExpression(node)) return false;
  let { parent } = node;
  while (ts.isParenthesizedExpression(parent)) ({ parent } = parent);
  return ts.isConditionalExpression(parent);
}

/** Counts in some files, given as paths from the root. */
export function countIn(root: string, files: readonly string[]): Count {
  const found: Count = { functions: [], assertions: [], nestedTernaries: 0, instanceofs: 0, casts: 0 };
  for (const file of files) count(root, file, found);
  return found;
}

function count(root: string, file: string, into: Count): void {
  const text = readFileSync(path.join(root, file), 'utf8');
  const kind = file.endsWith('x') ? ts.ScriptKind.TSX : ts.ScriptKind.TS;
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.Latest, true, kind);
  const lines = text.split('\n');
  const lineOf = (position: number): number => source.getLineAndCharacterOfPosition(position).line;
  const hasReason = (line: number): boolean =>
    /(^|\s)\/\/|\*\//.test(lines[line] ?? '') || /^\s*(\/\/|\{?\/\*|\*)/.test(lines[line - 1] ?? '');
  const visit = (node: ts.Node): void => {
    const first = lineOf(node.getStart());
    const at = `${file}:${lineOf(ts.isNonNullExpression(node) ? node.end : node.getStart()) + 1}`;
    if (ts.isFunctionLike(node) && 'body' in node && node.body)
      into.functions.push({ name: nameOf(node), at, lines: lineOf(node.end) - first + 1 });
    if (isNestedTernary(node)) into.nestedTernaries++;
    if (ts.isNonNullExpression(node)) into.assertions.push({ at, reason: hasReason(lineOf(node.end)) });
    if (ts.isBinaryExpression(node) && node.operatorToken.kind === ts.SyntaxKind.InstanceOfKeyword)
      into.instanceofs++;
    if (ts.isAsExpression(node) && node.type.getText() !== 'const') into.casts++;
    ts.forEachChild(node, visit);
  };
  visit(source);
}

const linesOf = (root: string, files: string[]): number =>
  files.reduce((sum, file) => sum + readFileSync(path.join(root, file), 'utf8').split('\n').length - 1, 0);

/** What `npm run house` prints. */
function report(root: string): string[] {
  const all = FOLDERS.flatMap((folder) => filesIn(root, folder));
  const code = codeOf(root);
  const found = countIn(root, code);
  const [functions, folders] = [found.functions.filter(({ lines }) => lines > 60), all.map(path.dirname)];
  const depth = (folder: string): number => folder.split(path.sep).length;
  const deepest = folders.reduce((a, b) => (depth(b) > depth(a) ? b : a));
  const filesOf = new Map<string, number>();
  for (const folder of [...folders, ...filesIn(root, 'tests').map(path.dirname)])
    filesOf.set(folder, (filesOf.get(folder) ?? 0) + 1);
  return [
    `lines of app and renderer, without tests: ${linesOf(root, code)}`,
    `lines of app alone: ${linesOf(
      root,
      code.filter((file) => file.startsWith('app')),
    )}`,
    `lines of their unit tests: ${linesOf(root, all.filter(isTest))}`,
    `deepest folder: ${deepest} (${depth(deepest)})`,
    `functions over 60 lines: ${functions.length}`,
    `nested ternaries: ${found.nestedTernaries}`,
    `non-null assertions: ${found.assertions.length}`,
    `  of them without a comment on their line or the one above: ${found.assertions.filter(({ reason }) => !reason).length}`,
    `instanceof: ${found.instanceofs}`,
    `casts with "as" (without "as const"): ${found.casts}`,
    '\nlongest functions:',
    ...[...found.functions]
      .sort((a, b) => b.lines - a.lines)
      .slice(0, 10)
      .map(({ name, at, lines }) => `  ${String(lines).padStart(4)}  ${name}  ${at}`),
    '\nfolders of app, renderer and tests with more than 15 files:',
    ...[...filesOf]
      .filter(([, files]) => files > 15)
      .map(([folder, files]) => `  ${String(files).padStart(4)}  ${folder}`),
  ];
}

if (process.argv[1] === fileURLToPath(import.meta.url))
  console.log(report(path.resolve(process.argv[2] ?? '.')).join('\n'));
