/** Filled in with the what-if controls. */
export function WhatIf() {
  return null;
}
