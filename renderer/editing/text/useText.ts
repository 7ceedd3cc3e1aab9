import { useCallback, useRef, useState, type RefCallback, type RefObject } from 'react';
import { openText, type OpenText, type TextNow } from './openText.ts';

/**
 * A text editor for as long as its element is on the page.
 *
 * @param source the text it begins with; later ones come by `replace`
 * @param onChange must stay the same function
 * @returns `place`, the ref of the empty element that it fills, and the editor, once it is open
 */
export function useText(
  source: string,
  label: string,
  onChange: (now: TextNow) => void,
): { readonly place: RefCallback<HTMLElement>; readonly text: RefObject<OpenText | null> } {
  const text = useRef<OpenText>(null);
  const [first] = useState(source);
  const place = useCallback(
    (element: HTMLElement | null) => {
      if (!element) return undefined;
      const opened = openText(element, first, label, onChange);
      text.current = opened;
      return () => {
        opened.close();
        text.current = null;
      };
    },
    [first, label, onChange],
  );
  return { place, text };
}
