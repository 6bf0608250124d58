/** How two identities compare, field by field; values themselves are not repeated here. */
export interface IdentityCheck {
  readonly verdict: 'same' | 'differs' | 'not comparable';
  readonly fields: readonly { readonly field: 'name' | 'birthDate' | 'sex' | 'patientId'; readonly result: 'same' | 'differs' | 'missing' }[];
  /** A person joined it all the same and said why; null when the verdict is `same`. */
  readonly acceptedBecause: string | null;
}
