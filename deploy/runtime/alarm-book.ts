import { asWritten, conditionWords, messageWords, type WordContext } from '../../engine/alarms/condition-words.ts';
import type { Quantities } from '../../engine/alarms/quantities.ts';
import { hasPart } from '../../engine/alarms/rule.ts';
import { CATALOGUE } from '../../shared/quantities.ts';
import type { AlarmBook, RuleView } from '../../shared/schema/alarm-book.ts';
import type { AlarmRule } from '../../shared/schema/alarm-rule.ts';
import type { SignalInfo, SignalState } from '../../shared/schema/live.ts';
import { type RigFile, signalQuantity } from '../../shared/schema/rig-file.ts';
import type { Heartbeat, Route } from '../../shared/schema/routes.ts';
import type { EditPort } from './file-edits.ts';

const MOST_WORDS = 1000;

export interface AlarmBookParts {
  /** As in force. */
  readonly file: RigFile;
  readonly rules: readonly AlarmRule[];
  /** The port for edits; a text: why there are none. */
  readonly edits: EditPort | string;
  /** What the rules look at now; null before the first step. */
  readonly quantities: Quantities | null;
  readonly infos: readonly SignalInfo[];
  readonly states: readonly SignalState[];
  /** The rig's public key for Web Push; null where none can be sent. */
  readonly pushKey: string | null;
}

/** All that is set up for alarms, in words where a person reads it; no secret is in it. */
export function alarmBook({ file, rules, edits, quantities, infos, states, pushKey }: AlarmBookParts): AlarmBook {
  const context = wordContext(file, rules);
  const isFixed = typeof edits === 'string';
  return {
    hash: isFixed ? null : edits.current().hash,
    whyFixed: isFixed ? edits : '',
    rules: rules.map((rule) => ({ ...ruleView(rule, context), entry: file.alarms.find(({ id }) => id === rule.id) ?? null })),
    watchables: [...signals(infos, states), ...derived(file, quantities)],
    routes: Object.fromEntries(Object.entries(file.routes).map(([name, route]) => [name, withoutSecrets(route)])),
    callOut: file.callOut,
    briefings: file.briefings,
    heartbeat: file.heartbeat ? withoutUrl(file.heartbeat) : null,
    pushKey,
  };
}

function wordContext(file: RigFile, rules: readonly AlarmRule[]): WordContext {
  const titles = new Map(rules.map(({ id, title }) => [id, title]));
  return {
    units: file.rig.units,
    quantityOf(signal) {
      const spec = file.signals.specs.get(signal);
      return spec ? signalQuantity(signal, spec) : null;
    },
    titleOf: (alarmId) => titles.get(alarmId) ?? alarmId,
  };
}

function ruleView(rule: AlarmRule, context: WordContext): RuleView {
  const { id, builtIn, adjusted, title, onDelayS, offDelayS, message, unknown, outOfService, notWatched } = rule;
  return {
    ...{ id, builtIn, adjusted, title, onDelayS, offDelayS, message, unknown, outOfService, notWatched },
    says: messageWords(message),
    routes: rule.routes && [...rule.routes],
    because: [...rule.because],
    levels: rule.levels.map(({ priority, when }) => ({ priority, when: asWritten(when), words: cut(conditionWords(when, context)) })),
  };
}

const cut = (words: string): string => (words.length > MOST_WORDS ? `${words.slice(0, MOST_WORDS - 1)}…` : words);

function signals(infos: readonly SignalInfo[], states: readonly SignalState[]): AlarmBook['watchables'] {
  const stateOf = new Map(states.map((state) => [state.index, state]));
  return infos.map(({ index, name, label, unit }) => {
    const state = stateOf.get(index);
    return { name, label, unit, kind: 'signal', now: state?.freshness === 'fresh' && state.quality === 'ok' ? state.value : null };
  });
}

/** What this rig can tell beside its signals. */
function derived(file: RigFile, quantities: Quantities | null): AlarmBook['watchables'] {
  const { specs } = file.signals;
  return [...CATALOGUE].flatMap(([name, { label, unit, kind, wordsOnly, needs = [], parts = [] }]) => {
    const isHere = needs.every((signal) => specs.has(signal)) && parts.every((part) => hasPart(file, part));
    return wordsOnly || !isHere ? [] : { name, label, unit: name.endsWith('Probability') ? 'chance' : unit, kind, now: quantities?.value(name) ?? null };
  });
}

/** An address may carry a secret in its path, and where files lie on the box is nobody's business. */
function withoutSecrets(route: Route): Route {
  if (route.kind === 'webhook') return { ...route, url: `${new URL(route.url).origin}/` };
  if (route.kind !== 'mail') return route;
  const { caFile: _, ...mail } = route;
  return mail;
}

function withoutUrl({ url: _, ...rest }: Heartbeat): Omit<Heartbeat, 'url'> {
  return rest;
}
