import { z } from 'zod';
import { ID } from './case-schemas.ts';
import { VIEW } from './room-schemas.ts';

/** Largest run that is taken, bytes: 300 MB are some 1,100 frames of 512 x 512 or 280 of 1024 x 1024, uncompressed, 8 bit. */
export const MOST_RUN_BYTES = 300 * 1024 ** 2;
/** Why a run that does not name this patient belongs to the case all the same: 3 to 400 signs, as encodeURIComponent writes them. */
export const BECAUSE_HEADER = 'x-trinadir-because';

/** An angiographic run as its DICOM file describes it, without anything about the patient. */
export const RUN = z.strictObject({
  runId: ID,
  frames: z.number().int().min(1),
  rows: z.number().int().min(1),
  columns: z.number().int().min(1),
  /** One for all frames, or one per frame; null: the file does not say. */
  views: z.array(VIEW.nullable()).min(1),
  sourceToImageMm: z.number().nullable(),
  sourceToPatientMm: z.number().nullable(),
  /** Side of a pixel. */
  pixelMm: z.number().nullable(),
  pixelAt: z.enum(['detector', 'isocentre']),
  findings: z.array(z.strictObject({ code: z.string(), text: z.string(), next: z.string() })),
});
export type RunAnswer = z.infer<typeof RUN>;
