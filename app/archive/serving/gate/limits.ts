/** So many at once, and so many a second in the long run. */
export interface Limit {
  readonly atOnce: number;
  readonly perSecond: number;
}

/** How much the archive answers. */
export interface Limits {
  /** Requests of one address. A school's stations may share one. */
  readonly address: Limit;
  /** Requests with one token or key. A page asks for some ten things at once. */
  readonly token: Limit;
  /** Wrong tokens and codes of one address: whoever guesses is stopped after a few. */
  readonly wrong: Limit;
}

/** Chosen for 100 stations behind one address, each of which sends all it has at the end of a lesson. */
export const USUAL_LIMITS: Limits = {
  address: { atOnce: 1000, perSecond: 100 },
  token: { atOnce: 100, perSecond: 10 },
  wrong: { atOnce: 10, perSecond: 1 / 10 },
};

/** Keys above which those are forgotten that are full again. */
const MANY = 10_000;

/** What each key may still do. A token bucket: it fills up evenly, and everything done takes one from it. */
export class Buckets {
  private readonly left = new Map<string, { readonly tokens: number; readonly at: number }>();

  /** @param now ms, of any beginning */
  constructor(
    private readonly limit: Limit,
    private readonly now: () => number = () => performance.now(),
  ) {}

  /** Takes one of a key's. Gives the seconds to wait where none is left, else 0. */
  take(key: string): number {
    const tokens = this.tokensOf(key);
    if (tokens < 1) return Math.ceil((1 - tokens) / this.limit.perSecond);
    this.left.set(key, { tokens: tokens - 1, at: this.now() });
    if (this.left.size > MANY) this.forgetFull();
    return 0;
  }

  /** The seconds until a key may do something; 0 for now. */
  wait(key: string): number {
    const tokens = this.tokensOf(key);
    return tokens < 1 ? Math.ceil((1 - tokens) / this.limit.perSecond) : 0;
  }

  private tokensOf(key: string): number {
    const left = this.left.get(key);
    if (!left) return this.limit.atOnce;
    const filled = left.tokens + ((this.now() - left.at) / 1000) * this.limit.perSecond;
    return Math.min(this.limit.atOnce, filled);
  }

  private forgetFull(): void {
    for (const key of this.left.keys()) if (this.tokensOf(key) >= this.limit.atOnce) this.left.delete(key);
  }
}
