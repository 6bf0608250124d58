import { describe, expect, test } from 'vitest';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';

describe('makeFrozen', () => {
  test('fixture', () => {
    const { document, text, sha256 } = makeFrozenFixture();
    console.log(text.length, sha256, document.plan.landing, document.choice, document.acceptedDoubts.length);
    expect(document.format).toBe('trinadir.frozen/1');
  });
});
