// Counts what vitest's JSON reporter wrote. A file that failed as a whole (it did not load, a hook broke) counts as one
// failed test, and so does a red run without a failed test (an error outside all tests).
export function countTests({ isGreen, files }) {
  const tests = files.flatMap((file) => file.assertionResults);
  const passed = tests.filter((test) => test.status === 'passed').length;
  const brokenFiles = files.filter((f) => f.status === 'failed' && !f.assertionResults.some((t) => t.status === 'failed'));
  const failed = tests.filter((test) => test.status === 'failed').length + brokenFiles.length;
  const skipped = tests.filter((test) => !['passed', 'failed'].includes(test.status)).map((test) => test.fullName);
  return { passed, failed: isGreen || failed > 0 ? failed : 1, skipped };
}
