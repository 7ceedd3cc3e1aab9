import { history, undo } from '@codemirror/commands';
import { EditorState, Text, Transaction } from '@codemirror/state';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { FaultyFile, type Fault } from '../../../app/faults/faults.ts';
import { parseLexicon, parseSkill } from '../../../app/authoring/skillFile.ts';
import { diagnosticsOf, rangeOf, replacing, smallestChange } from './ranges.ts';

const SOURCE = 'id: tray\n\n  text: Carry it  \n';
const doc = Text.of(SOURCE.split('\n'));
const shown = (line: number, column: number): string => {
  const { from, to } = rangeOf(doc, { line, column });
  return SOURCE.slice(from, to);
};

describe('where a fault is shown', () => {
  it('is from its column to the end of its line', () => {
    expect(shown(1, 5)).toBe('tray');
    expect(shown(3, 9)).toBe('Carry it');
  });

  it('is the line where the column lies past it, and the last line where the line does', () => {
    expect(shown(3, 40)).toBe('text: Carry it');
    expect(rangeOf(doc, { line: 2, column: 1 })).toEqual({ from: 9, to: 9 });
    expect(rangeOf(doc, { line: 9, column: 9 })).toEqual({ from: SOURCE.length, to: SOURCE.length });
    expect(shown(0, 0)).toBe('id: tray');
  });

  it('lies within the text, whatever the host says', () => {
    fc.assert(
      fc.property(fc.string({ unit: fc.constantFrom('a', ' ', '\n') }), fc.nat(9), fc.nat(9), (text, line, column) => {
        const { from, to } = rangeOf(Text.of(text.split('\n')), { line, column });
        expect(from).toBeGreaterThanOrEqual(0);
        expect(to).toBeGreaterThanOrEqual(from);
        expect(to).toBeLessThanOrEqual(text.length);
        expect(text.slice(from, to)).not.toContain('\n');
      }),
    );
  }); // prettier-ignore

  it('is what the check of a skill names', () => {
    const lexicon = parseLexicon('x', 'schema: 1\nslots: {}\n');
    const source = 'schema: 1\nid: tray\ntitle: Tray\nversion: 1\ncard: Bring it.\nsteps:\n  - id: set\n    text: Set it down\n    cues: ["i {juggle} it"]\n';
    const faults = faultsOf(() => parseSkill('x', source, lexicon));
    const found = diagnosticsOf(Text.of(source.split('\n')), { faults, warnings: [] });
    expect(found.map(({ from, to, severity }) => [severity, source.slice(from, to)])).toEqual([['error', '"i {juggle} it"]']]);
    expect(found[0]?.message).toContain('unknown slot {juggle}');
  }); // prettier-ignore
});

it('faults and warnings differ', () => {
  const fault: Fault = { file: 'x', line: 1, column: 1, field: '', message: 'm' };
  const found = diagnosticsOf(doc, { faults: [fault], warnings: [fault] });
  expect(found.map(({ severity }) => severity)).toEqual(['error', 'warning']);
});

describe('the smallest change', () => {
  it('is what differs, no more', () => {
    expect(smallestChange('a: one\n', 'a: ones\n')).toEqual({ from: 6, to: 6, insert: 's' });
    expect(smallestChange('aab', 'ab')).toEqual({ from: 1, to: 2, insert: '' });
    expect(smallestChange('same', 'same')).toEqual({ from: 4, to: 4, insert: '' });
  });

  it('makes one text the other', () => {
    const text = fc.string({ unit: fc.constantFrom('a', 'b', '\n') });
    fc.assert(
      fc.property(text, text, (before, after) => {
        const { from, to, insert } = smallestChange(before, after);
        expect(before.slice(0, from) + insert + before.slice(to)).toBe(after);
      }),
    );
  });
});

describe('what a form field sends', () => {
  /** The text after edits at these milliseconds, and one undo. */
  const undone = (edits: readonly (readonly [at: number, next: string])[]): string => {
    let state = EditorState.create({ doc: 'text: a\nid: x\n', extensions: history() });
    for (const [at, next] of edits)
      state = state.update({ ...replacing(state, next), annotations: Transaction.time.of(at) }).state;
    undo({ state, dispatch: (transaction) => (state = transaction.state) });
    return state.doc.toString();
  };

  it('is undone at once where it was typed at once', () => {
    const typed = ['text: ab\nid: x\n', 'text: abc\nid: x\n', 'text: "abc:"\nid: x\n'];
    expect(undone(typed.map((text, i) => [1000 + 100 * i, text]))).toBe('text: a\nid: x\n');
  });

  it('is undone by itself where it came later, or is about another field', () => {
    const first = 'text: ab\nid: x\n';
    expect(undone([[1000, first], [5000, 'text: abc\nid: x\n']])).toBe(first);
    expect(undone([[1000, first], [1100, 'text: ab\nid: xy\n']])).toBe(first);
  }); // prettier-ignore
});

function faultsOf(read: () => unknown): readonly Fault[] {
  try {
    read();
    return [];
  } catch (error) {
    if (error instanceof FaultyFile) return error.faults;
    throw error;
  }
}
