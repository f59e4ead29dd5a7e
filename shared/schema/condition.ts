import { z } from 'zod';
import { isGroup } from './anyway.ts';
import { duration } from './with-unit.ts';

/** A limit: a number in the unit of what is watched, or a string with its unit. */
export const limit = z
  .union([z.number(), z.string().min(1).max(32)], { error: 'a number in the unit of what is watched, or a text with a unit' })
  .meta({ expected: 'a number in the unit of what is watched, or a string with its unit' });

/** What a rule looks for. A leaf names what it watches and exactly one test; a branch joins conditions. */
export type Condition =
  | {
      readonly watch: string;
      readonly below?: number | string | undefined;
      readonly above?: number | string | undefined;
      readonly between?: readonly [number | string, number | string] | undefined;
      readonly silent?: number | undefined;
      readonly rising?: number | string | undefined;
      readonly falling?: number | string | undefined;
      readonly within?: number | undefined;
      readonly deadband?: number | string | undefined;
    }
  | { readonly alarm: string }
  | { readonly all: readonly Condition[] }
  | { readonly any: readonly Condition[] }
  | { readonly not: Condition };

/** Conditions within conditions go so deep at most. */
const MOST_DEPTH = 6;
/** Conditions that one branch joins at most. */
const MOST_PARTS = 16;

const leaf = z.strictObject({
  watch: z.string().min(1).max(96).describe('a signal of this rig, or a derived or projected quantity'),
  below: limit.optional().describe('true under it'),
  above: limit.optional().describe('true over it'),
  between: z.tuple([limit, limit]).optional().describe('true from the first to the second'),
  silent: duration(10, 86_400).optional().describe('signals only: true when nothing has come for so long'),
  rising: limit.optional().describe('true when it has risen by so much within `within`'),
  falling: limit.optional().describe('true when it has fallen by so much within `within`'),
  within: duration(60, 6 * 3600)
    .optional()
    .describe('span of rising and falling'),
  deadband: limit.optional().describe('how far back over the limit it must go to count as gone; left out: that of the rule, else what a good sensor wavers by'),
});

/** Keys of a condition, for what is generated from the schema. Of the last four each stands alone. */
export const CONDITION_PARTS = {
  leaf,
  branch: z.strictObject({
    alarm: z.string().describe('true while the alarm of this id stands'),
    all: z.array(z.unknown()).meta({ expected: 'a list of conditions' }).describe('true when all of these conditions are'),
    any: z.array(z.unknown()).meta({ expected: 'a list of conditions' }).describe('true when any of these conditions is'),
    not: z.unknown().meta({ expected: 'a condition' }).describe('true when this condition is not'),
  }),
} as const;

const BRANCHES = ['alarm', 'all', 'any', 'not'] as const;

/** A mistake as zod has it. */
type Told = {
  readonly code: string;
  readonly path: readonly PropertyKey[];
  readonly message?: string;
  readonly input?: unknown;
  readonly keys?: readonly string[];
};

/** Reads one condition with those within it. What is wrong is told with its path; then the result is of no use. */
function read(raw: unknown, path: readonly PropertyKey[], depth: number, tell: (issue: Told) => void): unknown {
  const wrong = (at: readonly PropertyKey[], message: string, input: unknown): void => tell({ code: 'custom', path: at, message, input });
  if (!isGroup(raw)) return wrong(path, 'a condition: watch with a test, or one of alarm, all, any, not', raw);
  if (depth > MOST_DEPTH) return wrong(path, `at most ${MOST_DEPTH} conditions within each other`, raw);
  const found = BRANCHES.filter((key) => Object.hasOwn(raw, key));
  const [branch] = found;
  if (branch === undefined) {
    const parsed = leaf.safeParse(raw);
    for (const issue of parsed.success ? [] : parsed.error.issues) tell({ ...issue, path: [...path, ...issue.path] });
    return parsed.data;
  }
  if (found.length > 1 || Object.hasOwn(raw, 'watch')) return wrong(path, 'one of watch, alarm, all, any, not; join several with all or any', raw);
  const others = Object.keys(raw).filter((key) => key !== branch);
  if (others.length > 0) tell({ code: 'unrecognized_keys', path, keys: others, input: raw });
  const body = raw[branch];
  const at = [...path, branch];
  if (branch === 'not') return { not: read(body, at, depth + 1, tell) };
  if (branch === 'alarm') {
    return typeof body === 'string' && body.length > 0 && body.length <= 64 ? { alarm: body } : wrong(at, 'the id of an alarm', body);
  }
  if (!Array.isArray(body) || body.length === 0 || body.length > MOST_PARTS) return wrong(at, `a list of 1 to ${MOST_PARTS} conditions`, body);
  return { [branch]: body.map((part, i) => read(part, [...at, i], depth + 1, tell)) };
}

export const Condition: z.ZodType<Condition> = z
  .unknown()
  .meta({ expected: 'a condition, see below' })
  .transform((raw, context) => read(raw, [], 1, (issue) => context.addIssue(issue as never)) as Condition);
