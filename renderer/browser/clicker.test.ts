import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { Clicker, DOUBLE_WITHIN, LONG_PRESS, type Press } from './clicker.ts';

describe('a one-button clicker', () => {
  beforeEach(() => void vi.useFakeTimers());
  afterEach(() => void vi.useRealTimers());

  const clicker = () => {
    const pressed: Press[] = [];
    return { pressed, button: new Clicker((press) => pressed.push(press)) };
  };

  it('takes a short press once it cannot become a double one', () => {
    const { pressed, button } = clicker();
    button.down();
    vi.advanceTimersByTime(100);
    button.up();
    vi.advanceTimersByTime(DOUBLE_WITHIN - 1);
    expect(pressed).toEqual([]);
    vi.advanceTimersByTime(1);
    expect(pressed).toEqual(['short']);
  });

  it('stops on a double press, and on a long one while it is still held', () => {
    const { pressed, button } = clicker();
    button.down();
    button.up();
    vi.advanceTimersByTime(200);
    button.down();
    button.up();
    vi.advanceTimersByTime(2000);
    expect(pressed).toEqual(['stop']);
    button.down();
    for (let held = 0; held < LONG_PRESS; held += 50) {
      button.down();
      vi.advanceTimersByTime(50);
    }
    expect(pressed).toEqual(['stop', 'stop']);
    button.up();
    vi.advanceTimersByTime(2000);
    expect(pressed).toEqual(['stop', 'stop']);
  });

  it('forgets an untold press when closed', () => {
    const { pressed, button } = clicker();
    button.down();
    button.up();
    button.close();
    vi.advanceTimersByTime(2000);
    expect(pressed).toEqual([]);
  });
});
