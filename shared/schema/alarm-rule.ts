import { z } from 'zod';
import { Priority } from './alarm.ts';
import { ANYWAY, isMore } from './anyway.ts';
import { Condition, limit } from './condition.ts';
import { duration } from './with-unit.ts';

/** Ids of the built-in alarms: those of design section 4.6, and those of the watch mode. */
export const BUILT_IN_ALARMS = [
  'low-point',
  'bank-low',
  'cell-low',
  'voltage-low',
  'cold-charge',
  'charge-blocked',
  'cabin-hot',
  'cabin-cold',
  'minisplit-failing',
  'sensor-silent',
  'sensor-suspect',
  'not-anchored',
  'panels-weak',
  'unaccounted-load',
  'store-failing',
  'copy-failing',
  'broker-lost',
  'clock-unsure',
  'route-failing',
  'watch-hot',
  'watch-cold',
  'watch-rising',
  'watch-blind',
] as const;
export type BuiltInAlarm = (typeof BUILT_IN_ALARMS)[number];

/** An entry of `alarms` in the rig file: an adjusted built-in alarm (what is left out stays as built in), or a rule of the person's own. */
export const AlarmEntry = z
  .strictObject({
    id: z
      .string()
      .regex(/^[a-z][a-z0-9-]{0,47}$/, 'lower-case letters, digits and hyphens, at most 48, the first a letter')
      .describe('a built-in alarm to adjust, or a name of your own'),
    title: z.string().min(1).max(80).optional().describe('what it watches, in a few words'),
    when: Condition.optional().describe('the condition, for a rule with one priority'),
    priority: Priority.optional().describe('the priority that goes with `when`'),
    levels: z
      .array(z.strictObject({ priority: Priority, when: Condition }))
      .min(1)
      .max(4)
      .optional()
      .describe('instead of `when` and `priority`: several entries of `priority` and `when`, rising in priority; the highest true one counts'),
    deadband: limit.optional().describe('for every limit of the rule that has none of its own'),
    onDelay: duration(0, 7200).optional().describe('how long the condition must stand before the alarm is raised; a rule of your own: 60 s'),
    offDelay: duration(0, 7200).optional().describe('how long it must be gone before the alarm returns to normal; a rule of your own: 300 s'),
    message: z
      .string()
      .min(1)
      .max(300)
      .optional()
      .describe('what it says; {name} stands for the value of a signal or quantity; left out: the title with the values of what it watches'),
    messageOver: z.string().min(1).max(300).optional().describe('what it says once it is over'),
    messageUnknown: z.string().min(1).max(300).optional().describe('what it says while its input is missing; {why} stands for the reason'),
    routes: z.array(z.string().max(32)).max(8).optional().describe('routes that it takes first, instead of those of its priority'),
    because: z
      .array(z.string().max(64))
      .max(8)
      .optional()
      .describe('alarms of its causes: while one of them stands, this one is held back; left out by a rule that looks only at silence: broker-lost'),
    unknown: z
      .enum(['raise', 'ignore'])
      .optional()
      .describe('what to do when its input is missing: raise, as loud as what it hides; or ignore, so that what stands stays; left out: raise'),
    outOfService: z.boolean().optional().describe('the alarm is not raised at all'),
    notice: z
      .number()
      .min(0.01)
      .max(0.99)
      .optional()
      .describe('low-point only, instead of `levels`: probability of falling under the floor this night above which it stands at medium'),
    urgent: z.number().min(0.01).max(0.99).optional().describe('low-point only, with `notice`: probability above which it is high'),
  })
  .refine((value) => isMore(value.urgent, value.notice), { path: ['urgent'], message: 'more than notice', ...ANYWAY });
export type AlarmEntry = z.infer<typeof AlarmEntry>;

export { Condition } from './condition.ts';

/** A rule as it runs: complete, limits as numbers in the unit of what is watched. */
export interface AlarmRule {
  readonly id: string;
  readonly builtIn: boolean;
  /** A built-in that the rig file changes. */
  readonly adjusted: boolean;
  readonly title: string;
  /** Rising in priority. */
  readonly levels: readonly { readonly priority: Priority; readonly when: NumericCondition }[];
  readonly onDelayS: number;
  readonly offDelayS: number;
  readonly message: string;
  readonly messageOver: string;
  readonly messageUnknown: string;
  /** Null: the routes of its priority. */
  readonly routes: readonly string[] | null;
  readonly because: readonly string[];
  readonly unknown: 'raise' | 'ignore';
  readonly outOfService: boolean;
  /** Why it cannot be watched on this rig; '' when it can. Only built-in rules may be so. */
  readonly notWatched: string;
}

/** A condition with its numbers in the units kept, its spans in seconds and every deadband filled in. */
export type NumericCondition =
  | { readonly watch: string; readonly test: 'below' | 'above'; readonly limit: number; readonly deadband: number }
  | { readonly watch: string; readonly test: 'between'; readonly from: number; readonly to: number; readonly deadband: number }
  | { readonly watch: string; readonly test: 'silent'; readonly forS: number }
  | { readonly watch: string; readonly test: 'rising' | 'falling'; readonly by: number; readonly withinS: number; readonly deadband: number }
  | { readonly alarm: string }
  | { readonly all: readonly NumericCondition[] }
  | { readonly any: readonly NumericCondition[] }
  | { readonly not: NumericCondition };
