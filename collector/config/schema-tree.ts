import { z } from 'zod';
import { CONDITION_PARTS } from '../../shared/schema/condition.ts';
import { RigFile, SIGNAL_PARTS } from '../../shared/schema/rig-file.ts';
import { FORECAST, SIGNALS } from '../../shared/signals.ts';

/** The part of JSON Schema that the rig file's schema turns into. */
export interface SchemaNode {
  readonly type?: string | readonly string[];
  readonly description?: string;
  readonly default?: unknown;
  /** In words, where a value comes as a number or as a text with its unit. */
  readonly expected?: string;
  readonly enum?: readonly unknown[];
  readonly const?: unknown;
  readonly anyOf?: readonly SchemaNode[];
  readonly minimum?: number;
  readonly maximum?: number;
  readonly oneOf?: readonly SchemaNode[];
  readonly additionalProperties?: SchemaNode | boolean;
  readonly properties?: Readonly<Record<string, SchemaNode>>;
  readonly required?: readonly string[];
  readonly items?: SchemaNode;
  readonly prefixItems?: readonly SchemaNode[];
}

const asNode = (schema: z.ZodType): SchemaNode =>
  z.toJSONSchema(schema, {
    io: 'input',
    // A default of a value that is transformed is left out otherwise.
    override({ zodSchema, jsonSchema }) {
      if (zodSchema instanceof z.ZodDefault) jsonSchema.default = zodSchema.def.defaultValue as never;
    },
  }) as SchemaNode;

/** The rig file as the person writes it. What stands under `signals` is apart, since those keys are the person's. */
export const FILE_NODE: SchemaNode = asNode(RigFile);
export const SIGNAL_NODE: SchemaNode = asNode(SIGNAL_PARTS.signal);
export const FORECAST_NODE: SchemaNode = asNode(SIGNAL_PARTS.forecast);

/** A condition of an alarm: a leaf, and the branches of which each stands alone. */
export const LEAF_NODE: SchemaNode = asNode(CONDITION_PARTS.leaf);
export const BRANCH_NODE: SchemaNode = asNode(CONDITION_PARTS.branch);

/** Keys that may stand at a path of the rig file; none where nothing is known. */
export function keysAt(path: readonly PropertyKey[]): readonly string[] {
  if (path.length === 1 && path[0] === 'signals') return [...SIGNALS.keys(), FORECAST];
  if (path[0] === 'alarms' && path.includes('when')) return [...Object.keys(LEAF_NODE.properties ?? {}), ...Object.keys(BRANCH_NODE.properties ?? {})];
  const inSignals = path[0] === 'signals' && path.length >= 2;
  let node: SchemaNode | undefined = inSignals ? (path[1] === FORECAST ? FORECAST_NODE : SIGNAL_NODE) : FILE_NODE;
  for (const step of path.slice(inSignals ? 2 : 0)) {
    const properties: SchemaNode['properties'] = node?.properties;
    node = typeof step === 'number' ? node?.items : properties !== undefined && Object.hasOwn(properties, step) ? properties[String(step)] : undefined;
  }
  return Object.keys(node?.properties ?? {});
}
