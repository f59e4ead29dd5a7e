/**
 * What a page of ours may load and do: only what this server serves.
 * Styles need nothing more: the screens set element styles through the object model, which the policy leaves free.
 * Pictures also as data: URLs, since the bundler writes small ones into the style sheet.
 */
const CONTENT_POLICY = [
  "default-src 'self'",
  "img-src 'self' data:",
  "object-src 'none'",
  "manifest-src 'self'",
  "worker-src 'self'",
  "base-uri 'none'",
  "form-action 'self'",
  "frame-ancestors 'none'",
].join('; ');

/** Headers of every answer, the live channel's included. No header allows another origin anything. */
export const SECURITY_HEADERS = {
  'content-security-policy': CONTENT_POLICY,
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
  'cross-origin-resource-policy': 'same-origin',
} as const;
