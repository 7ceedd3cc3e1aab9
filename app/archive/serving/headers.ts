/**
 * Sent with every answer. The content policy lets the archive's own page load and ask nothing but the archive, and be shown in no
 * other page. Who asks shows a token that no browser sends by itself, so other pages cannot ask in somebody's name.
 */
export const SAFE_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy': [
    "default-src 'none'",
    "script-src 'self'",
    "connect-src 'self'",
    "style-src 'self'",
    "img-src 'self' data:",
    "font-src 'self'",
    "media-src 'self' blob:",
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
  ].join('; '),
  'cache-control': 'no-store',
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-resource-policy': 'same-origin',
  'permissions-policy': 'microphone=(), camera=(), geolocation=(), display-capture=()',
  'referrer-policy': 'no-referrer',
  'x-content-type-options': 'nosniff',
};

/** Sent over TLS: browsers ask this host over TLS alone for a year (RFC 6797). */
export const TLS_HEADERS: Readonly<Record<string, string>> = {
  'strict-transport-security': 'max-age=31536000',
};
