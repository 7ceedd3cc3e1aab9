import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { openLibrary } from '../../app/library/library.ts';
import { addStep, lineOfStep, moveStep, nameOf, removeStep, setField, setKind, viewOf } from './skillEdit.ts';

const SOURCE = `# Written at Larkfield.
schema: 1
id: tray
title: Tray
card: |
  Bring the tray.
steps:
  # Before all else.
  - use: knock
  - id: carry
    text: Carry it
    critical: true
    after: [knock]
    cues:
      - "i {carry} the tray" # the usual way
      - i bring it
  - { id: set, text: Set it down, cues: ["set it down"], before: [carry] }
`;

describe('a form’s edit of a skill file', () => {
  it('shows what there is, however unfinished', () => {
    const view = viewOf(SOURCE)!;
    expect(view.steps.map(nameOf)).toEqual(['knock', 'carry', 'set']);
    expect(view.steps[1]).toMatchObject({ critical: true, after: ['knock'], cues: ['i {carry} the tray', 'i bring it'] });
    expect(viewOf('steps: 7\n')).toMatchObject({ steps: [] });
    expect(viewOf('steps: [7, { id: 3 }]\n')!.steps.map(nameOf)).toEqual(['', '3']);
    expect(viewOf('steps: [')).toBeNull();
    expect(viewOf('- a list\n')).toBeNull();
    expect(viewOf('')).toBeNull();
  }); // prettier-ignore

  it('changes the lines it is about, and no other', () => {
    expect(setField(SOURCE, ['steps', 1, 'text'], 'Carry the tray')).toBe(
      SOURCE.replace('text: Carry it', 'text: Carry the tray'),
    );
    expect(setField(SOURCE, ['version'], 2)).toBe(`${SOURCE}version: 2\n`);
    expect(setField(SOURCE, ['steps', 1, 'critical'], null)).toBe(SOURCE.replace('    critical: true\n', ''));
  });

  it('of cues keeps the comments of those that stay', () => {
    const cues = ['i {carry} the tray', 'here is: your tray'];
    expect(setField(SOURCE, ['steps', 1, 'cues'], cues)).toBe(
      SOURCE.replace('- i bring it', '- "here is: your tray"'),
    );
    expect(setField(SOURCE, ['steps', 1, 'cues'], ['i bring it', 'i {carry} the tray'])).toContain(
      '- i bring it\n      - "i {carry} the tray" # the usual way\n',
    );
    expect(viewOf(setField(SOURCE, ['steps', 0, 'after'], ['set']))!.steps[0]!.after).toEqual(['set']);
    expect(setField(SOURCE, ['steps', 1, 'after'], [])).toBe(SOURCE.replace('    after: [knock]\n', ''));
  });

  it('moves, adds and takes out steps with their comments', () => {
    const names = (source: string): string[] => viewOf(source)!.steps.map(nameOf);
    const moved = moveStep(SOURCE, 0, 1);
    expect(names(moved)).toEqual(['carry', 'knock', 'set']);
    expect(moved).toMatch(/# Before all else\.\n\s+- use: knock/);
    expect(moved).toContain('before: [carry] }\n');
    expect(moveStep(moved, 1, 0)).toMatch(/steps:\n\s+# Before all else\.\n\s+- use: knock\n/);
    expect(moveStep(SOURCE, 0, 3)).toBe(SOURCE);
    expect(names(removeStep(SOURCE, 1))).toEqual(['knock', 'set']);
    expect(removeStep(SOURCE, 1)).toContain('# Before all else.');
    expect(addStep(SOURCE, { use: 'greet' })).toBe(`${SOURCE}  - use: greet\n`);
    expect(names(addStep('id: x\n', { id: 'a', text: 'A' }))).toEqual(['a']);
    expect(names(addStep('id: x\nsteps: []\n', { id: 'a', text: 'A' }))).toEqual(['a']);
  });

  it('sets the kind of evidence with what it needs', () => {
    const timed = setKind(SOURCE, 1, 'timed');
    expect(viewOf(timed)!.steps[1]!.evidence).toEqual({ kind: 'timed', atLeast: 20, start: [], stop: [] });
    expect(viewOf(setKind(timed, 1, 'said'))!.steps[1]!.evidence).toEqual({});
    expect(viewOf(setKind(SOURCE, 1, 'eyes'))!.steps[1]!.cues).toEqual([]);
  });

  it('leaves what is no YAML alone', () => {
    expect(setField('a: [', ['version'], 2)).toBe('a: [');
  });

  it('knows at which line a step begins', () => {
    expect([0, 1, 2, 3].map((i) => lineOfStep(SOURCE, i))).toEqual([9, 10, 17, null]);
  });
});

describe('the skills that come with the program', async () => {
  const { files } = await openLibrary();
  it.each([...files])('%s keeps every line that an edit is not about', (_, file) => {
    const source = readFileSync(file, 'utf8');
    const lines = source.split('\n');
    const edited = setField(source, ['steps', 0, 'plans'], true).split('\n');
    const added = edited.findIndex((line, i) => line !== lines[i]);
    expect(edited[added]?.trim()).toBe('plans: true');
    expect(edited.filter((_, i) => i !== added)).toEqual(lines);
  });
});
