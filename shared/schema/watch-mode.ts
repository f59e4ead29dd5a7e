import { z } from 'zod';

/** The watch over somebody inside who cannot leave. */
export const WatchOrder = z.strictObject({
  thermometers: z.array(z.string().max(96)).min(2).max(6).describe('signals that measure where they are'),
  warmestC: z.number().min(15).max(45),
  coldestC: z.number().min(-10).max(25),
  untilMs: z.number().int().describe('when the person means to be back'),
  near: z.string().trim().min(3).max(120).describe('who is close by and can open the door, and how they are reached'),
  understood: z.literal(true).describe('the person has read what this is not'),
});
export type WatchOrder = z.infer<typeof WatchOrder>;

/** `refusals`: why it would not be armed now, each with what to do; empty when it would. */
export const WatchView = z.strictObject({
  armed: WatchOrder.omit({ understood: true })
    .extend({ sinceMs: z.number().int(), by: z.string().max(64) })
    .nullable(),
  thermometers: z.array(z.strictObject({ signal: z.string(), label: z.string(), valueC: z.number().nullable(), fresh: z.boolean() })),
  refusals: z.array(z.string().max(300)),
  notes: z.array(z.string().max(300)).optional().describe('what must be known of it beside that: it went on after a restart, its end has passed'),
});
export type WatchView = z.infer<typeof WatchView>;
