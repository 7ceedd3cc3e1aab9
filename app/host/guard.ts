import type { IncomingMessage } from 'node:http';
import { createHash } from 'node:crypto';
import { PAGE_STYLE } from '../report/page.ts';
import { Refused } from './refused.ts';

/**
 * What keeps the page to itself. The opener and embedder policies isolate it from other origins, which its
 * WebAssembly threads need; the content policy lets it load and ask nothing but this host.
 */
export const SAFE_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy': [
    "default-src 'none'",
    "script-src 'self' 'wasm-unsafe-eval'",
    "worker-src 'self'",
    "connect-src 'self'",
    // A report carries its style inside, so that it works alone.
    `style-src 'self' 'sha256-${createHash('sha256').update(PAGE_STYLE).digest('base64')}'`,
    "img-src 'self' data:",
    "font-src 'self'",
    "media-src 'self' blob:",
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
  ].join('; '),
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-embedder-policy': 'require-corp',
  'cross-origin-resource-policy': 'same-origin',
  'permissions-policy': 'microphone=(self), camera=(), geolocation=(), display-capture=()',
  'referrer-policy': 'no-referrer',
  'x-content-type-options': 'nosniff',
};

/** The built worker of the engine Kaldi (app/engines/kaldiWorker.ts). */
export const KALDI_WORKER = /[\\/]assets[\\/]kaldiWorker-[\w-]+\.js$/;

/**
 * Its own policy, which the page's does not reach: the bindings of its WebAssembly are made out of text. Nothing else may
 * do that; and it may load only from this host, like the page.
 */
export const KALDI_WORKER_POLICY = [
  "default-src 'none'",
  "script-src 'self' 'wasm-unsafe-eval' 'unsafe-eval'",
  "connect-src 'self'",
].join('; ');

const LOOPBACK = new Set(['127.0.0.1', 'localhost', '[::1]']);

/**
 * Lets in only what this machine's own page, or a program on this machine, may have asked. A name that is not
 * loopback's is a page elsewhere that has its own name point here (DNS rebinding); an origin that is not ours is a page
 * elsewhere that asks across. Throws {@link Refused}.
 */
export function guard({
  headers,
  method = '',
  url = '',
}: Pick<IncomingMessage, 'headers' | 'method' | 'url'>): void {
  const where = `${method} ${url}`;
  const host = headers.host ?? '';
  if (!LOOPBACK.has(hostnameOf(host))) {
    throw new Refused(403, {
      error: `The request is for "${host}", and this host is only for the machine it runs on.`,
      where,
      advice: 'Open the address that Sinkside printed, which begins with http://127.0.0.1.',
    });
  }
  const { origin } = headers;
  const site = headers['sec-fetch-site'];
  const across = (site === 'cross-site' || site === 'same-site') && headers['sec-fetch-mode'] !== 'navigate';
  if ((origin !== undefined && origin !== `http://${host}`) || across) {
    throw new Refused(403, {
      error: `The request comes from another page (${origin ?? site}).`,
      where,
      advice: 'Only the page that this host serves may ask it. Close the other page.',
    });
  }
}

function hostnameOf(host: string): string {
  try {
    return new URL(`http://${host}`).hostname;
  } catch {
    return '';
  }
}
