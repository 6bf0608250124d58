/** Short code of a frozen plan, as it is read aloud: the first eight signs of its SHA-256 in two groups. */
export const formatShortCode = (sha256: string): string => `${sha256.slice(0, 4)} ${sha256.slice(4, 8)}`;
