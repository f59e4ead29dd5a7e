import { z } from 'zod';

/** Where the copy of readings on a server stands. */
export const CopyView = z.strictObject({
  state: z
    .enum(['starting', 'up-to-date', 'behind', 'waiting', 'paused'])
    .describe('behind: the past is being made up for; waiting: the server is in trouble or away; paused: it refuses, and somebody must change something'),
  waiting: z.number().int().nonnegative().describe('readings that the server has not taken yet'),
  sinceMs: z.number().int().nullable().describe('time of the oldest of them'),
  why: z.string().max(300).describe("why it waits or is paused; '' when it is neither"),
  dropped: z.number().int().nonnegative().describe('readings that will never reach the server, since too many waited'),
  refused: z.number().int().nonnegative().describe('readings that the server refused one by one'),
  refusedWhy: z.string().max(300).describe('what it said of the newest of them'),
  remarks: z.array(z.string().max(300)).describe('what else is known of the server, in whole sentences'),
});
export type CopyView = z.infer<typeof CopyView>;
