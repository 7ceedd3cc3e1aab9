import { HighlightStyle, syntaxHighlighting } from '@codemirror/language';
import { EditorView } from '@codemirror/view';
import { tags } from '@lezer/highlight';

/** How the text editor looks: in the page's own colours (tokens.css), so that it follows light and dark by itself. */

const mark = (sign: string, color: string) => ({
  content: 'normal',
  color: `var(${color})`,
  fontSize: '1.2em',
  fontWeight: 700,
  textAlign: 'center',
  lineHeight: 1,
  '&::before': { content: `"${sign}"` },
});
const underline = (color: string) => ({
  backgroundImage: 'none',
  textDecoration: `underline wavy var(${color})`,
  textUnderlineOffset: '0.2em',
});

const frame = EditorView.theme({
  '&': {
    maxHeight: '70vh',
    overflow: 'hidden',
    border: '2px solid var(--edge)',
    borderRadius: '0.5rem',
    background: 'var(--raised)',
    color: 'var(--ink)',
    // Smaller than 16 px, and phones zoom in when the text takes the focus.
    fontSize: '0.9rem',
  },
  '&.cm-focused': { outline: '3px solid var(--focus)', outlineOffset: '3px' },
  '.cm-scroller': {
    fontFamily: "'Noto Sans Mono', 'DejaVu Sans Mono', Consolas, monospace",
    lineHeight: 1.5,
  },
  '.cm-content': { caretColor: 'var(--ink)', padding: '0.4rem 0' },
  '.cm-gutters': { background: 'var(--raised)', color: 'var(--soft)', borderColor: 'var(--hair)' },
  '.cm-activeLine, .cm-activeLineGutter': { background: 'var(--wash)' },
  '.cm-activeLineGutter': { color: 'var(--ink)' },
  '.cm-specialChar': { color: 'var(--missed)' },
});

const faults = EditorView.theme({
  '.cm-lint-marker-error': mark('✕', '--missed'),
  '.cm-lint-marker-warning': mark('!', '--unsure'),
  '.cm-lintRange-error': underline('--missed'),
  '.cm-lintRange-warning': underline('--unsure'),
  '.cm-lintPoint-error::after': { borderBottomColor: 'var(--missed)' },
  '.cm-lintPoint-warning::after': { borderBottomColor: 'var(--unsure)' },
  '.cm-diagnostic': { padding: '0.4rem 0.75rem', maxWidth: 'min(30rem, 80vw)' },
  '.cm-diagnostic-error': { borderLeftColor: 'var(--missed)' },
  '.cm-diagnostic-warning': { borderLeftColor: 'var(--unsure)' },
  '.cm-tooltip': {
    border: '2px solid var(--edge)',
    borderRadius: '0.4rem',
    background: 'var(--raised)',
    color: 'var(--ink)',
  },
});

const panels = EditorView.theme({
  '.cm-panels': { background: 'var(--ground)', color: 'var(--ink)' },
  '.cm-panels-top': { borderBottom: '1px solid var(--hair)' },
  '.cm-panels-bottom': { borderTop: '1px solid var(--hair)' },
  '.cm-keys': { padding: '0.25rem 0.6rem', color: 'var(--soft)', fontSize: '0.8rem' },
  // There are no such keys there.
  '@media (pointer: coarse)': { '.cm-keys': { display: 'none' } },
  '.cm-panel.cm-search': { padding: '0.4rem 2.5rem 0.4rem 0.6rem' },
  '.cm-panel.cm-search label': { fontSize: '0.8rem' },
  '.cm-panel.cm-search input[type=checkbox]': {
    width: '1.3rem',
    height: '1.3rem',
    verticalAlign: 'middle',
    accentColor: 'var(--main)',
  },
  '.cm-textfield, .cm-button': {
    minHeight: '2.2rem',
    border: '2px solid var(--edge)',
    borderRadius: '0.4rem',
    background: 'var(--raised)',
    fontSize: '0.85rem',
  },
  '.cm-button': { borderColor: 'var(--main)', color: 'var(--main)', fontWeight: 600, cursor: 'pointer' },
  '.cm-panel.cm-search [name=close]': { width: '2.2rem', height: '2.2rem', color: 'var(--main)', fontSize: '1.2rem' },
  '.cm-panel :focus-visible': { outline: '3px solid var(--focus)', outlineOffset: '1px' },
  '.cm-searchMatch': { background: 'transparent', outline: '2px solid var(--unsure)' },
  '.cm-searchMatch-selected': { background: 'var(--wash)', outline: '3px solid var(--focus)' },
}); // prettier-ignore

const words = syntaxHighlighting(
  HighlightStyle.define([
    { tag: tags.propertyName, color: 'var(--main)', fontWeight: '600' },
    { tag: tags.string, color: 'var(--heard)' },
    { tag: tags.comment, color: 'var(--soft)', fontStyle: 'italic' },
    { tag: [tags.labelName, tags.typeName, tags.keyword, tags.meta], color: 'var(--order)' },
    { tag: [tags.separator, tags.punctuation], color: 'var(--soft)' },
  ]),
);

export const look = [frame, faults, panels, words];
