import { makeCatalogue } from './catalogue.ts';

/** Findings about an echo report that was read. */
export const ECHO_REPORT_EN = makeCatalogue({
  'report-partial': 'The report calls itself partial.',
  'report-partial-next': 'Fetch the finished report.',
  'report-unverified': 'Nobody has verified the report.',
  'report-unverified-next': 'A person reads the numbers against the pictures.',
  'report-several-values': '{field}: {count} values from {low} to {high} {unit}; {value} is taken ({choice}).',
  'report-several-values-next': 'Look which of them are of the same moment, and enter that one.',
  'report-unit-contradicts': '{field}: the unit in the report measures something else; the value is not taken.',
  'report-unit-contradicts-next': 'Enter it by hand from the pictures.',
  'report-unit-missing': '{field}: the report gives no unit; the value is not taken.',
  'report-unit-missing-next': 'Enter it by hand with its unit.',
  'report-value-missing': '{field}: the report gives no number.',
  'report-value-missing-next': 'Enter it by hand, or leave it.',
  'report-out-of-bounds': '{field}: the value in the report cannot be; it is not taken.',
  'report-out-of-bounds-next': 'Look at the report for a unit mistaken for another, and enter it by hand.',
  'report-derived-otherwise': '{field}: the report marks the value as a minimum, maximum or deviation; it is not taken.',
  'report-derived-otherwise-next': 'Enter the value itself.',
  'report-unread': '{count} measurements of the report are of no field here; they are listed by their codes.',
  'report-unread-next': 'Nothing to do, unless one of them is missed.',
});
