import { makeCatalogue } from './catalogue.ts';

/** Words of the house: cautions that go on every page and export, the command line, the demo server. */
export const HOUSE_EN = makeCatalogue({
  caution:
    'A planning aid for research and teaching, not a medical device; the device\'s instructions for use, local protocol and licensed practice decide.',
  training: 'training, invented sizes',
});
