import {
  defaultKeymap,
  history,
  historyKeymap,
  redo,
  redoDepth,
  undo,
  undoDepth,
} from '@codemirror/commands';
import { yaml } from '@codemirror/lang-yaml';
import { lintGutter, nextDiagnostic, previousDiagnostic, setDiagnostics } from '@codemirror/lint';
import { search, searchKeymap } from '@codemirror/search';
import { EditorState, type Extension } from '@codemirror/state';
import {
  EditorView,
  highlightActiveLine,
  highlightActiveLineGutter,
  highlightSpecialChars,
  keymap,
  lineNumbers,
  showPanel,
  type Panel,
} from '@codemirror/view';
import type { Checked } from '../useChecked.ts';
import { look } from './look.ts';
import { diagnosticsOf, replacing } from './ranges.ts';

/** The text as it is now, and whether there is something to undo and to redo. */
export interface TextNow {
  readonly source: string;
  readonly canUndo: boolean;
  readonly canRedo: boolean;
}

/** A YAML text in an editor. */
export interface OpenText {
  /** Makes the text another one: the smallest change, which can be undone. */
  replace(next: string): void;
  /** Shows faults and warnings at their lines, unless the text has changed since they were found. */
  showFaults(checked: Checked): void;
  /** Selects a line, counted from 1, and takes the focus there. */
  showLine(line: number): void;
  undo(): void;
  redo(): void;
  close(): void;
}

/**
 * Opens an editor in an empty element. It lives in a shadow root: there the editor's styles are constructed style
 * sheets, which the page's content policy allows (`style-src 'self'`); in the page itself they would be a `<style>`
 * element, which it blocks.
 *
 * @param label what screen readers call the text
 */
export function openText(
  place: HTMLElement,
  source: string,
  label: string,
  onChange: (now: TextNow) => void,
): OpenText {
  const root = place.shadowRoot ?? place.attachShadow({ mode: 'open' });
  const state = EditorState.create({ doc: source, extensions: extensionsFor(label, onChange) });
  const view = new EditorView({ state, parent: root, root });
  return {
    replace: (next) => view.dispatch(replacing(view.state, next)),
    showFaults: (checked) => {
      const { doc } = view.state;
      if (doc.toString() === checked.of)
        view.dispatch(setDiagnostics(view.state, diagnosticsOf(doc, checked)));
    },
    showLine: (line) => {
      const { from, to } = view.state.doc.line(Math.min(Math.max(line, 1), view.state.doc.lines));
      view.dispatch({
        selection: { anchor: from, head: to },
        effects: EditorView.scrollIntoView(from, { y: 'center' }),
      });
      view.focus();
    },
    undo: () => void undo(view),
    redo: () => void redo(view),
    close: () => view.destroy(),
  };
}

/** Tab is not among the keys: it leaves the text, so that nobody is caught in it (WCAG 2.2, 2.1.2). */
const KEYS = keymap.of([
  ...defaultKeymap,
  ...historyKeymap,
  ...searchKeymap,
  { key: 'F8', run: nextDiagnostic },
  { key: 'Shift-F8', run: previousDiagnostic },
]);

/** What the search panel says, in place of its own words. */
const SEARCH_WORDS = {
  next: 'Next',
  previous: 'Previous',
  all: 'Select all',
  'match case': 'Same case',
  regexp: 'Pattern',
  'by word': 'Whole words',
  replace: 'Replace it',
  'replace all': 'Replace all',
  Replace: 'Replace by',
};

const extensionsFor = (label: string, onChange: (now: TextNow) => void): Extension => [
  lintGutter(),
  lineNumbers(),
  history(),
  highlightSpecialChars(),
  highlightActiveLine(),
  highlightActiveLineGutter(),
  EditorView.lineWrapping,
  search({ top: true }),
  EditorState.phrases.of(SEARCH_WORDS),
  yaml(),
  KEYS,
  showPanel.of(keysPanel),
  look,
  // An editable element takes the focus anyhow; the index says so to tools that check it.
  EditorView.contentAttributes.of({ 'aria-label': label, 'aria-describedby': 'keys', tabindex: '0' }),
  EditorView.updateListener.of(({ docChanged, state }) => {
    if (!docChanged) return;
    const [canUndo, canRedo] = [undoDepth(state) > 0, redoDepth(state) > 0];
    onChange({ source: state.doc.toString(), canUndo, canRedo });
  }),
];

/** Says which keys there are, below the text and to those who do not see it. */
function keysPanel(): Panel {
  const dom = document.createElement('div');
  const main = /^(Mac|iP)/.test(navigator.platform) ? '⌘' : 'Ctrl+';
  dom.id = 'keys';
  dom.className = 'cm-keys';
  dom.textContent = `Tab leaves the text. ${main}] and ${main}[ indent, ${main}F finds, ${main}Z undoes, F8 goes to the next fault.`;
  return { dom };
}
