import { z } from 'zod';

/** What readings are written as. */
export const FORMATS = ['csv', 'lines', 'parquet'] as const;
export type Format = (typeof FORMATS)[number];

const day = z.iso.date().describe("a day of the rig's calendar");

/** GET /api/export?format=&from=&to=&signals=&packed=  Readings as a file; operators only. */
export const ExportQuery = z.object({
  format: z.enum(FORMATS).default('csv'),
  from: day.optional().describe('first day; left out: the oldest'),
  to: day.optional().describe('last day; left out: today'),
  signals: z.string().max(20_000).optional().describe('names, set apart by commas; left out: every signal of which anything is kept'),
  packed: z.enum(['no', 'yes']).default('no').describe('with gzip; Parquet is packed in any case'),
});
export type ExportQuery = z.infer<typeof ExportQuery>;

/** What became of a file that was brought in. */
export const ImportReport = z.strictObject({
  endedMs: z.number().int(),
  words: z.string().describe("'' when it failed"),
  fault: z.string().describe("why it failed; '' when it did not"),
  why: z.array(z.strictObject({ line: z.number().int(), reason: z.string() })).describe('the first lines that were left out'),
  refused: z.number().int().describe('how many were left out'),
});
export type ImportReport = z.infer<typeof ImportReport>;

/** GET /api/transfer  How far readings are on their way; operators only. POST /api/import takes a file as application/octet-stream, and this says what becomes of it. */
export const TransferView = z.strictObject({
  doing: z.enum(['nothing', 'export', 'import']),
  share: z.number().min(0).max(1).describe('how far it is; 0 while nothing is done'),
  last: ImportReport.nullable().describe('of the last file since the start; null when there was none'),
});
export type TransferView = z.infer<typeof TransferView>;
