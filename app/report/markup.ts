/** A piece of HTML that is whole and safe: what was put into it as text can only be text. */
export class Markup {
  constructor(readonly text: string) {}
}

/** What a template takes: text, which is escaped, and markup, which is not. Null stands for nothing. */
export type Part = string | number | null | Markup | readonly Part[];

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

function textOf(part: Part): string {
  if (part === null) return '';
  if (part instanceof Markup) return part.text;
  if (typeof part === 'object') return part.map(textOf).join('');
  return String(part).replace(/[&<>"']/g, (sign) => ENTITIES[sign] ?? sign);
}

/** HTML with everything that is put into it escaped, in text and in quoted attributes alike. */
export const html = (strings: TemplateStringsArray, ...parts: readonly Part[]): Markup =>
  new Markup(strings.map((text, i) => text + textOf(parts[i] ?? null)).join(''));
