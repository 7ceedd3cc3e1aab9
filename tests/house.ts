/** How large and how plain the code is: `npm run house`, or `npm run house -- FOLDER` for another checkout. */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import ts from 'typescript';

const root = path.resolve(process.argv[2] ?? '.');
const isTest = (file: string): boolean => /\.test\.tsx?$/.test(file);

interface Count {
  functions: { name: string; at: string; lines: number }[];
  nestedTernaries: number;
  nonNull: number;
  nonNullWithReason: number;
  instanceofs: number;
  casts: number;
}

/** All files below `app` and `renderer`, as paths from the root. */
function filesIn(folder: string): string[] {
  return readdirSync(path.join(root, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => path.relative(root, path.join(entry.parentPath, entry.name)));
}

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

function count(file: string, into: Count): void {
  const text = readFileSync(path.join(root, file), 'utf8');
  const kind = file.endsWith('x') ? ts.ScriptKind.TSX : ts.ScriptKind.TS;
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.Latest, true, kind);
  const lines = text.split('\n');
  const lineOf = (position: number): number => source.getLineAndCharacterOfPosition(position).line;
  const hasReason = (line: number): boolean =>
    /(^|\s)\/\/|\*\//.test(lines[line] ?? '') || /^\s*(\/\/|\{?\/\*|\*)/.test(lines[line - 1] ?? '');
  const visit = (node: ts.Node): void => {
    const first = lineOf(node.getStart());
    if (ts.isFunctionLike(node) && 'body' in node && node.body)
      into.functions.push({
        name: nameOf(node),
        at: `${file}:${String(first + 1)}`,
        lines: lineOf(node.end) - first + 1,
      });
    if (isNestedTernary(node)) into.nestedTernaries++;
    if (ts.isNonNullExpression(node)) {
      into.nonNull++;
      if (hasReason(lineOf(node.end))) into.nonNullWithReason++;
    }
    if (ts.isBinaryExpression(node) && node.operatorToken.kind === ts.SyntaxKind.InstanceOfKeyword)
      into.instanceofs++;
    if (ts.isAsExpression(node) && node.type.getText() !== 'const') into.casts++;
    ts.forEachChild(node, visit);
  };
  visit(source);
}

const linesOf = (files: string[]): number =>
  files.reduce((sum, file) => sum + readFileSync(path.join(root, file), 'utf8').split('\n').length - 1, 0);

const all = [...filesIn('app'), ...filesIn('renderer')];
const code = all.filter((file) => /\.tsx?$/.test(file) && !isTest(file));
const found: Count = {
  functions: [],
  nestedTernaries: 0,
  nonNull: 0,
  nonNullWithReason: 0,
  instanceofs: 0,
  casts: 0,
};
for (const file of code) count(file, found);

const filesOf = new Map<string, number>();
for (const file of [...all, ...filesIn('tests')])
  filesOf.set(path.dirname(file), (filesOf.get(path.dirname(file)) ?? 0) + 1);
const depth = (folder: string): number => folder.split(path.sep).length;
const [deepest = ''] = [...new Set(all.map((file) => path.dirname(file)))].sort(
  (a, b) => depth(b) - depth(a),
);

const rows: [string, string | number][] = [
  ['lines of app and renderer, without tests', linesOf(code)],
  ['lines of app alone', linesOf(code.filter((file) => file.startsWith('app')))],
  ['lines of their unit tests', linesOf(all.filter(isTest))],
  ['deepest folder', `${deepest} (${String(depth(deepest))})`],
  ['functions over 60 lines', found.functions.filter(({ lines }) => lines > 60).length],
  ['nested ternaries', found.nestedTernaries],
  ['non-null assertions', found.nonNull],
  ['  of them with a comment on their line or the one above', found.nonNullWithReason],
  ['instanceof', found.instanceofs],
  ['`as` casts (but `as const`)', found.casts],
];
for (const [what, figure] of rows) console.log(`${what}: ${String(figure)}`);
console.log('\nlongest functions:');
for (const { name, at, lines } of found.functions.sort((a, b) => b.lines - a.lines).slice(0, 10))
  console.log(`  ${String(lines).padStart(4)}  ${name}  ${at}`);
console.log('\nfolders of app, renderer and tests with more than 15 files:');
for (const [folder, files] of [...filesOf].filter(([, files]) => files > 15))
  console.log(`  ${String(files).padStart(4)}  ${folder}`);
