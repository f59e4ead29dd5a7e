import { z } from 'zod';
import { type RuleContext, type RuleIssue, resolveRules, type SignalFacts } from '../alarm-rules.ts';
import { didYouMean } from '../rules/entry.ts';
import { FORECAST, isSignalName, PHYSICAL, REQUIRED_SIGNALS, signalKind } from '../signals.ts';
import { MODES, QUANTITIES, type Quantity, UNIT_OF, UNIT_SYMBOLS, unitSymbol } from '../units.ts';
import { AlarmEntry } from './alarm-rule.ts';
import { ANYWAY, isGroup, isMore } from './anyway.ts';
import { CopyTo } from './copy-to.ts';
import { routeTopicIssues } from './route-topics.ts';
import { Briefings, CallOut, Heartbeat, Routes } from './routes.ts';
import { shareIssues } from './share.ts';
import { duration, quantity } from './with-unit.ts';

const percent = (what: string) => z.number().min(0).max(100).describe(`${what}, percent of the learned capacity`);

const topic = z
  .string()
  .min(1)
  .max(512)
  .refine((t) => !t.includes('+') && !t.includes('#') && !t.includes('\0'), 'an MQTT topic without + or #')
  .describe('MQTT topic, exactly as the board publishes it');

const unit = z
  .string()
  .refine((u) => UNIT_SYMBOLS.includes(u) || QUANTITIES.some((q) => unitSymbol(u, q) !== null), {
    error: `one of ${UNIT_SYMBOLS.join(', ')}`,
  })
  .describe('unit in which the board speaks; left out: the unit of the signal');

const jsonPointer = z.string().regex(/^(\/([^~/]|~[01])*)*$/, 'an RFC 6901 pointer such as /v or /battery/0/amps');

const sourceFields = {
  topic,
  format: z.enum(['number', 'json', 'senml']).default('number').describe('number: a bare number; json: a field of a JSON object; senml: an RFC 8428 pack'),
  pointer: jsonPointer.optional().describe('json: where the value stands, as an RFC 6901 pointer'),
  name: z.string().min(1).max(128).optional().describe('senml: the record name, resolved with its base name'),
  unit: unit.optional(),
  scale: z.number().default(1).describe('multiplies the number the board sends, before the unit is converted'),
  offset: z.number().default(0).describe('added after scale, before the unit is converted'),
  chargingIs: z.enum(['positive', 'negative']).default('positive').describe('sign that the board gives a charging current'),
  decimalComma: z.boolean().default(false).describe('the board writes 12,8 for twelve point eight'),
  reject: z.array(z.number()).max(32).default([]).describe('numbers, as the board sends them, that mean "no value"'),
  powerOn: z
    .array(z.number())
    .max(8)
    .default([])
    .describe('numbers, as the board sends them, that it shows before its first measurement; 85 is known for temperatures'),
  saturatesAt: z.array(z.number()).max(8).default([]).describe('numbers, as the board sends them, at which its input clips'),
  range: z
    .tuple([z.number(), z.number()])
    .optional()
    .describe("lowest and highest value that can be true, in the unit kept; left out: what the bank and its inverter allow, else the signal's physical range"),
  timePointer: jsonPointer.optional().describe('json: where the board writes its own time (epoch s, ms, us or ns, or ISO 8601 with a zone)'),
  setsClock: z
    .boolean()
    .optional()
    .describe('json: the time at timePointer comes from a satellite receiver; while the box does not know the time, it is taken from here'),
  sequencePointer: jsonPointer.optional().describe('json: where the board writes a counter of its messages, for telling resent ones'),
};

const source = z.strictObject(sourceFields).describe('one topic that a signal is read from');
export type SignalSource = z.infer<typeof source>;

/** How a source is read when the file says nothing. */
const PLAIN = source.parse({ topic: 'any' });
/** What of a source the entries of a sum take from the signal itself: only the range. All else would be passed over in silence. */
const OF_EACH_ENTRY = (Object.keys(sourceFields) as (keyof SignalSource)[]).filter((key) => key !== 'topic' && key !== 'range');

/** Keys that mean something in one format only. */
const OF_ONE_FORMAT = [
  ['pointer', 'json'],
  ['timePointer', 'json'],
  ['setsClock', 'json'],
  ['sequencePointer', 'json'],
  ['name', 'senml'],
] as const satisfies readonly (readonly [keyof SignalSource, SignalSource['format']])[];

const signal = z
  .strictObject({
    ...sourceFields,
    topic: topic.optional(),
    sum: z.array(source).min(2).max(8).optional().describe('several topics whose values are added, such as two shunts; counts only while all are fresh'),
    every: duration(0.05, 86_400).default(10).describe('how often the board sends; after 3 times this, at least 30 s, the signal counts as silent'),
    side: z
      .enum(['ac', 'dc'])
      .optional()
      .describe('power signals: measured before (dc) or after (ac) the inverter; left out: ac for loads and the mini-split, dc for panels and chargers'),
    quantity: z.enum(QUANTITIES).optional().describe('for names of your own: what the value is; left out: told by the unit'),
  })
  .superRefine((value, context) => {
    const tell = (path: (string | number)[], message: string, input: unknown) => context.addIssue({ code: 'custom', path, message, input });
    const parts: readonly unknown[] = Array.isArray(value.sum) ? value.sum : [];
    if ((value.topic === undefined) === (value.sum === undefined)) tell(['topic'], 'either topic or sum', value.topic);
    for (const key of value.sum === undefined ? [] : OF_EACH_ENTRY) {
      if (JSON.stringify(value[key]) !== JSON.stringify(PLAIN[key])) tell([key], 'nothing here, but in each entry of sum', value[key]);
    }
    for (const [index, part] of [value, ...parts].entries()) {
      const at = index === 0 ? [] : ['sum', index - 1];
      if (!isGroup(part)) continue;
      if (part.format === 'json' && part.pointer === undefined) tell([...at, 'pointer'], 'a pointer, since format is json', part.pointer);
      if (part.format === 'senml' && part.name === undefined) tell([...at, 'name'], 'a record name, since format is senml', part.name);
      for (const [key, format] of index === 0 && value.sum !== undefined ? [] : OF_ONE_FORMAT) {
        const other = part.format === 'number' || part.format === 'json' || part.format === 'senml';
        if (part[key] !== undefined && other && part.format !== format) tell([...at, key], `format: ${format} beside it`, part[key]);
      }
      if (part.setsClock === true && part.timePointer === undefined) tell([...at, 'timePointer'], 'a pointer to the time, since setsClock is true', undefined);
      if (Array.isArray(part.range) && !isMore(part.range[1], part.range[0])) tell([...at, 'range'], 'the lower end first', part.range);
    }
  }, ANYWAY);
export type SignalSpec = z.infer<typeof signal>;

const forecastSource = z
  .strictObject({
    topic,
    pointer: jsonPointer.optional().describe('where the forecast stands in the message; left out: the whole message'),
  })
  .describe('topic of the weather forecast messages (issuedMs, points)');

/** Units that do not fit what a signal measures. What is no unit at all is told by the schema. */
function unitIssues(name: string, body: unknown) {
  if (!isGroup(body)) return [];
  const isUnit = (given: unknown): given is string => unit.safeParse(given).success;
  const kind = QUANTITIES.find((one) => one === body.quantity);
  const quantityOf = signalQuantity(name, { ...(kind && { quantity: kind }), ...(isUnit(body.unit) && { unit: body.unit }) });
  const told = (path: (string | number)[], message: string, input: unknown) => ({ code: 'custom' as const, path, message, input });
  if (quantityOf === null) {
    if (body.unit !== undefined && !isUnit(body.unit)) return [];
    return [told(['unit'], 'a unit or a quantity, since the name alone does not tell', body.unit)];
  }
  return [body, ...(Array.isArray(body.sum) ? body.sum : [])].flatMap((part: unknown, index) =>
    isGroup(part) && part.sum === undefined && isUnit(part.unit) && unitSymbol(part.unit, quantityOf) === null
      ? [told(index === 0 ? ['unit'] : ['sum', index - 1, 'unit'], `a unit of ${quantityOf}, such as ${UNIT_OF[quantityOf]}`, part.unit)]
      : [],
  );
}

/** The record of signals, as a Map by name: no name can reach an object's prototype. */
const signals = z.record(z.string(), z.unknown()).transform((raw, context) => {
  const specs = new Map<string, SignalSpec>();
  let forecast: z.infer<typeof forecastSource> | null = null;
  for (const [name, body] of Object.entries(raw)) {
    if (name === FORECAST) {
      const parsed = forecastSource.safeParse(body);
      if (parsed.success) forecast = parsed.data;
      else for (const issue of parsed.error.issues) context.addIssue({ ...issue, path: [name, ...issue.path] } as never);
      continue;
    }
    if (!isSignalName(name)) {
      context.addIssue({ code: 'custom', path: [name], message: 'a signal name such as bank.voltage, load.fridge.power or <group>.<name>', input: name });
      continue;
    }
    const parsed = signal.safeParse(body);
    const issues: { readonly path: PropertyKey[] }[] = [...(parsed.success ? [] : parsed.error.issues), ...unitIssues(name, body)];
    for (const issue of issues) context.addIssue({ ...issue, path: [name, ...issue.path] } as never);
    if (parsed.success) specs.set(name, parsed.data);
  }
  return { specs, forecast, names: Object.keys(raw) };
});

/** The parts of the file that stand under names of the person's choosing, for what is generated from the schema: hints, reference. */
export const SIGNAL_PARTS = { signal, source, forecast: forecastSource } as const;

/** What a signal measures: from its name, else its `quantity`, else its unit. Null when none tells. */
export function signalQuantity(name: string, spec: Pick<SignalSpec, 'quantity' | 'unit'>): Quantity | null {
  const named = signalKind(name)?.quantity ?? spec.quantity;
  if (named) return named;
  const unitText = spec.unit;
  return unitText === undefined ? null : (QUANTITIES.find((q) => unitSymbol(unitText, q) !== null) ?? null);
}

/** What rules may refer to in a file with these signals and routes. */
export function ruleContext(mapped: Pick<z.infer<typeof signals>, 'specs' | 'names'>, routes: Routes): RuleContext {
  const facts: RuleContext['signals'] = new Map(
    mapped.names.flatMap((name): [string, SignalFacts | null][] => {
      if (name === FORECAST) return [];
      const spec = mapped.specs.get(name);
      const quantityOf = spec && signalQuantity(name, spec);
      if (!spec || !quantityOf) return [[name, null]];
      const known = signalKind(name);
      const range = spec.range ?? known?.range ?? PHYSICAL[quantityOf];
      return [[name, { quantity: quantityOf, label: known?.label ?? name, range, everyS: spec.every }]];
    }),
  );
  return { signals: facts, routes: Object.keys(routes) };
}

const panel = z.strictObject({
  watts: z.number().min(1).max(50_000).describe('rated power at 1000 W/m2, W'),
  tilt: z.number().min(0).max(90).default(0).describe('from flat, degrees'),
  azimuth: z.number().min(0).max(360).default(0).describe("from the vehicle's nose, clockwise, degrees"),
});

/** Mistakes of the alarms and of who is called, against the signals and routes of the same file; those of their shape are told by the schema. */
function alarmIssues(file: Readonly<Record<string, unknown>>): readonly RuleIssue[] {
  const given: readonly unknown[] = Array.isArray(file.alarms) ? file.alarms : [];
  const mapped = file.signals as Partial<z.infer<typeof signals>> | undefined;
  // Where there are no signals or routes at all, every name would be wrong.
  if (!(mapped?.specs instanceof Map) || mapped.names === undefined || !isGroup(file.routes)) return [];
  const entries = given.map((entry) => AlarmEntry.safeParse(entry).data ?? null);
  const otherIds = given.flatMap((entry, i) => (entries[i] === null && isGroup(entry) && typeof entry.id === 'string' ? entry.id : []));
  const context = ruleContext({ specs: mapped.specs, names: mapped.names }, file.routes as Routes);
  const rules = resolveRules(entries, { ...context, otherIds }).issues.map((issue) => ({ ...issue, path: ['alarms', ...issue.path] }));
  const topics = routeTopicIssues(file.routes, { specs: mapped.specs, forecast: mapped.forecast });
  return [...rules, ...topics, ...callIssues(file, new Set([...context.routes, ...Object.keys(Routes.parse(undefined))]))];
}

/** Routes that somebody is called by and that there are not. Those that are there without being named may be left out of a file's own. */
function callIssues({ callOut, briefings }: Readonly<Record<string, unknown>>, known: ReadonlySet<string>): readonly RuleIssue[] {
  const lists: [(string | number)[], unknown][] = [[['briefings', 'routes'], isGroup(briefings) ? briefings.routes : []]];
  for (const [priority, call] of isGroup(callOut) ? Object.entries(callOut) : []) {
    if (!isGroup(call)) continue;
    for (const key of ['first', 'atNight'] as const) lists.push([['callOut', priority, key], call[key]]);
    const next: readonly unknown[] = Array.isArray(call.then) ? call.then : [];
    next.forEach((step, i) => void lists.push([['callOut', priority, 'then', i, 'routes'], isGroup(step) ? step.routes : []]));
  }
  return lists.flatMap(([path, names]) =>
    (Array.isArray(names) ? names : []).flatMap((name: unknown, i) =>
      typeof name !== 'string' || known.has(name)
        ? []
        : { path: [...path, i], expected: `one of the routes: ${[...known].join(', ')}`, hint: didYouMean(name, known) },
    ),
  );
}

/** Signals without which nothing can be computed; while the rig is being set up they may still be missing. */
function missingSignals({ signals: mapped, rig }: Readonly<Record<string, unknown>>): readonly string[] {
  const names = (mapped as Partial<z.infer<typeof signals>> | undefined)?.names;
  const isSettingUp = isGroup(rig) && rig.settingUp === true;
  return isSettingUp || names === undefined ? [] : REQUIRED_SIGNALS.filter((name) => !names.includes(name));
}

/** The rig file (design section 4.2). Parsed values are in the units kept: Cel, W, seconds, percent. */
export const RigFile = z
  .strictObject({
    rig: z
      .strictObject({
        id: z
          .string()
          .regex(/^[a-z0-9][a-z0-9-]{0,31}$/, 'lower-case letters, digits and hyphens, at most 32')
          .describe('short name used in data and topics'),
        name: z.string().min(1).max(64).describe('name on the screens'),
        units: z.enum(['metric', 'us']).default('metric').describe('units on the screens'),
        settingUp: z
          .boolean()
          .optional()
          .describe('true while the rig is being set up on the screen: signals may still be missing; taken out at the end of it'),
      })
      .describe('the vehicle with all its equipment'),
    place: z
      .strictObject({
        latitude: z.number().min(-90).max(90).describe('degrees north'),
        longitude: z.number().min(-180).max(180).describe('degrees east'),
        timeZone: z
          .string()
          .refine(isTimeZone, { error: 'an IANA time zone such as Europe/Lisbon' })
          .optional()
          .describe('left out: looked up from the coordinates, offline'),
      })
      .optional()
      .describe('where the rig stands; a place.* signal overrides it; without either the sun is unknown'),
    bank: z
      .strictObject({
        chemistry: z.enum(['LiFePO4', 'AGM', 'NMC']).default('LiFePO4').describe('chemistry of the cells; AGM is lead-acid, absorbed glass mat'),
        cells: z
          .int()
          .min(1)
          .max(32)
          .describe(
            'cells in series. LiFePO4: 4 for a 12 V bank, 8 for 24 V, 16 for 48 V. AGM: its 2 V elements, 6 for 12 V, 12 for 24 V. NMC: 7 or 14 for 24 or 48 V',
          ),
        capacityAh: z.number().min(5).max(10_000).describe('rated capacity, Ah'),
        floor: percent('the state of charge that you will not go below').default(20),
        confidence: z
          .number()
          .min(50)
          .max(99)
          .default(90)
          .describe('how sure you want to be that the floor holds, percent of nights; below it the night is called tight'),
      })
      .describe('the battery bank behind the shunt'),
    inverter: z
      .strictObject({
        ratedWatts: z.number().min(50).max(50_000).describe('continuous rating, W'),
        surgeWatts: z.number().min(50).max(100_000).optional().describe('short-time rating, W'),
        cutoffVolts: quantity('voltage', 1, 1000).optional().describe('voltage at which it switches off'),
        idleWatts: z.number().min(0).max(500).default(20).describe('what it draws with nothing connected, W; learned later'),
      })
      .refine((value) => value.surgeWatts === value.ratedWatts || isMore(value.surgeWatts, value.ratedWatts), {
        path: ['surgeWatts'],
        message: 'at least ratedWatts',
        ...ANYWAY,
      })
      .optional()
      .describe('left out: all loads are taken as on the dc side'),
    panels: z.array(panel).max(16).default([]).describe('panels on the roof'),
    minisplit: z
      .strictObject({
        minWatts: z.number().min(0).max(10_000).describe('electrical power at its lowest speed, W'),
        maxWatts: z.number().min(10).max(10_000).describe('electrical power at full speed, W'),
        mode: z.enum(MODES).default('cool').describe('mode while no signal tells it'),
        setpoint: quantity('temperature', 5, 40).optional().describe('setpoint while no signal tells it'),
        setpoints: z
          .tuple([quantity('temperature', 5, 40), quantity('temperature', 5, 40)])
          .default([18, 28])
          .describe('lowest and highest setpoint you would use'),
      })
      .refine((value) => isMore(value.maxWatts, value.minWatts), { path: ['maxWatts'], message: 'more than minWatts', ...ANYWAY })
      .optional()
      .describe('the variable-speed mini-split'),
    broker: z
      .strictObject({
        url: z
          .string()
          .regex(/^(mqtts?|wss?):\/\/[^\s/]+/, 'a URL such as mqtt://192.168.1.5:1883 or mqtts://broker:8883')
          .refine((u) => !/\/\/[^/]*@/.test(u), 'no user name or password in the file: DAWNHOLD_BROKER_USER and DAWNHOLD_BROKER_PASSWORD in the environment')
          .optional()
          .describe('an MQTT broker of yours; left out: the embedded broker'),
        protocol: z
          .union([z.literal(4), z.literal(5)])
          .default(4)
          .describe('4 is MQTT 3.1.1, 5 is MQTT 5 (an outside broker only)'),
        listen: z
          .string()
          .default('127.0.0.1')
          .describe('embedded broker: address to listen on; beyond loopback only with DAWNHOLD_BROKER_USER and DAWNHOLD_BROKER_PASSWORD set'),
        port: z.int().min(0).max(65_535).default(1883).describe('embedded broker: port'),
        caFile: z.string().optional().describe('certificate authority for mqtts, a file'),
        clientId: z.string().min(1).max(64).optional().describe('left out: one of our own making'),
        qos: z
          .union([z.literal(0), z.literal(1)])
          .default(0)
          .describe('quality of service of the subscriptions'),
        discover: z
          .boolean()
          .default(true)
          .describe('outside broker: hear all topics, so that those no signal uses can be shown and mapped; false: only the topics of the signals'),
        share: z
          .string()
          .regex(/^[a-zA-Z0-9-]{1,32}$/, 'letters, digits and hyphens, at most 32')
          .optional()
          .describe(
            'for `npm run collect` alone: name of a group of collectors, of which an outside MQTT 5 broker gives each message to one (deploy/scale.md). Needs url, protocol: 5 and copyTo, and no signal that is a sum',
          ),
      })
      .prefault({})
      .describe('where messages come from'),
    signals: signals.describe('which topic gives which signal'),
    store: z
      .strictObject({
        kind: z.enum(['embedded', 'memory']).default('embedded').describe('embedded: SQLite in the data folder; memory: nothing is kept'),
        commitEvery: duration(1, 60).default(5).describe('how often readings are committed; what is newer is lost in a power cut'),
        keepRaw: duration(86_400, 86_400 * 36_500)
          .default(86_400 * 3650)
          .describe('how long every reading is kept; minute means stay'),
        keepMegabytes: z
          .number()
          .min(100)
          .max(1_000_000)
          .optional()
          .describe(
            'size to which the store is kept; beyond it the oldest readings go first, minute means stay; left out: keepRaw alone decides. A full disk by itself gives up nothing old: new readings wait in memory until there is room',
          ),
      })
      .prefault({})
      .describe('where readings are kept'),
    copyTo: CopyTo.optional(),
    alarms: z.array(AlarmEntry).max(1000).default([]).describe('built-in alarms that are adjusted, and rules of your own'),
    routes: Routes.describe('ways in which alarms reach somebody, each under a name of yours'),
    callOut: CallOut.describe('who is called, by priority'),
    briefings: Briefings.describe('what is told at bedtime and in the morning'),
    heartbeat: Heartbeat.optional().describe('an address of yours that is called all the time, so that a far-away party notices when the rig falls silent'),
  })
  .superRefine((value, context) => {
    for (const name of missingSignals(value)) {
      context.addIssue({ code: 'custom', path: ['signals', name], message: 'this signal; nothing can be computed without it', input: undefined });
    }
    for (const { path, expected, input } of shareIssues(value)) context.addIssue({ code: 'custom', path: [...path], message: expected, input });
    for (const { path, expected, ...params } of alarmIssues(value)) {
      context.addIssue({ code: 'custom', path: [...path], message: expected, params, input: undefined });
    }
  }, ANYWAY);
export type RigFile = z.infer<typeof RigFile>;

/** True for an IANA time zone that this runtime knows. */
export function isTimeZone(zone: string): boolean {
  try {
    new Intl.DateTimeFormat('en', { timeZone: zone });
    return /[A-Za-z]/.test(zone);
  } catch {
    return false;
  }
}
