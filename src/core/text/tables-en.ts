import { makeCatalogue } from './catalogue.ts';

/** Words about the tables that a hospital hands in. */
export const TABLES_EN = makeCatalogue({
  signVerb: 'checks a device table, rules, rescue cards or rhythm rules and signs them: name, time and hash are put into the file',
  tableArgument: 'devices.json or rules.json',
  signBy: 'name of the person who answers for the table',
  signerMissing: 'A signature needs a name.',
  signerMissingNext: 'Give it with --by.',
  unreadable: 'The table cannot be read as JSON.',
  unreadableNext: 'Check its path, rights, commas and quotes.',
  signed: 'Signed by {by} at {at} (hash {hash}…).',
  changed: 'The table was changed after it was signed.',
  changedNext: 'Check it and sign it again: trinadir sign FILE --by NAME.',
});
