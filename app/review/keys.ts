/** What a reviewer can do without a mouse. */
export const ACTIONS = [
  'play',
  'back',
  'hear',
  'next',
  'previous',
  'yes',
  'no',
  'unsure',
  'reason',
  'measure',
  'comment',
  'sign off',
] as const;
export type Action = (typeof ACTIONS)[number];

/** The key of each action, as `KeyboardEvent.key` names it in lower case, and what the screen says of it. */
export const KEYS: Readonly<
  Record<Action, { readonly key: string; readonly shown: string; readonly says: string }>
> = {
  play: { key: ' ', shown: 'Space', says: 'play or stop' },
  back: { key: 'arrowleft', shown: '←', says: 'back 3 seconds' },
  hear: { key: 'enter', shown: 'Enter', says: 'hear the words of the mark' },
  next: { key: 'arrowdown', shown: '↓', says: 'next mark' },
  previous: { key: 'arrowup', shown: '↑', says: 'mark before' },
  yes: { key: 'y', shown: 'Y', says: 'yes' },
  no: { key: 'n', shown: 'N', says: 'no' },
  unsure: { key: 'u', shown: 'U', says: 'cannot tell' },
  reason: { key: 'r', shown: 'R', says: 'write a reason' },
  measure: { key: 'm', shown: 'M', says: 'enter what was measured' },
  comment: { key: 'c', shown: 'C', says: 'comment at this moment' },
  'sign off': { key: 's', shown: 'S', says: 'sign off' },
};

/** Seconds that "back" goes back. */
export const BACK_SECONDS = 3;

/** The action of a key; null where it has none. */
export const actionOf = (key: string): Action | null =>
  ACTIONS.find((action) => KEYS[action].key === key.toLowerCase()) ?? null;
