import { makeCatalogue } from './catalogue.ts';

/** Doubts about what was traced on an ultrasound picture, and what a picture lacks. */
export const ECHO_TRACE_EN = makeCatalogue({
  'trace-few-marks': 'Only {count} marks: the round top of the envelope is cut straight.',
  'trace-few-marks-next': 'Mark the edge in ten places or more.',
  'trace-open-ended': 'The trace does not begin and end near the baseline.',
  'trace-open-ended-next': 'Trace the whole of ejection, no more and no less.',
  'angle-corrected': 'The machine corrected velocities for an angle of {deg} degrees.',
  'angle-corrected-next': 'Record along the flow, without angle correction.',
});
