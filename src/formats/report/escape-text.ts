const ENTITIES: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

/**
 * Text that is safe between tags and inside quoted attributes of HTML and SVG. Control characters, which neither may
 * hold, and the marks that turn the reading direction become a replacement sign.
 */
export function escapeText(text: string): string {
  return String(text)
    // eslint-disable-next-line no-control-regex -- these are the characters XML forbids
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069\ufffe\uffff]/g, '\ufffd')
    .replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, '\ufffd')
    .replace(/[&<>"']/g, (sign) => ENTITIES[sign]!);
}
