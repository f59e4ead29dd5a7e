import { PRIORITY_WORDS } from './priority.ts';
import type { Faults } from './rule-entry.ts';
import type { RuleForm } from './rule-form.ts';

/** Keys of an entry of the rig file that stand as they are in the form. */
const PLAIN = ['title', 'message', 'onDelay', 'offDelay', 'routes', 'unknown'];

/** Keys of a test, and the field in which each is typed. */
const OF_TEST: ReadonlyMap<string, string> = new Map([
  ['watch', 'watch'],
  ['below', 'limit'],
  ['above', 'limit'],
  ['between', 'limit'],
  ['rising', 'limit'],
  ['falling', 'limit'],
  ['silent', 'minutes'],
  ['within', 'minutes'],
  ['deadband', 'deadband'],
]);

/** What the box says against a rule, a mistake a line, `path: words`, by the fields of the form; `rest` are those that no field is to blame for. */
export function refusalFields(reason: string, form: RuleForm): { readonly faults: Faults; readonly rest: string } {
  const faults: Record<string, string> = {};
  const rest: string[] = [];
  for (const line of reason.split('\n')) {
    const [, path = '', words = line] = /^([A-Za-z0-9.-]+): (.*)$/.exec(line) ?? [];
    const field = fieldOf(path.split('.'), form);
    if (field === null) rest.push(ofLevel(path, words, form) ?? line);
    else faults[field] ??= words;
  }
  return { faults, rest: rest.join('\n') };
}

/** What is said of a level as a whole, by the name of its priority; null when it is of no level. */
function ofLevel(path: string, words: string, form: RuleForm): string | null {
  const at = /^(?:levels\.(\d+)\.)?when$/.exec(path);
  const level = at && form.levels[Number(at[1] ?? 0)];
  if (!level) return null;
  const why = /^got a level that never counts, [^;]*; (.*)$/.exec(words)?.[1];
  return `${PRIORITY_WORDS[level.priority]}${why ? ` never counts: ${why}` : `: ${words}`}`;
}

/** The field of a path such as `onDelay`, `when.above`, `levels.1.when.all.0.deadband`; null when the form has none. */
function fieldOf(keys: readonly string[], form: RuleForm): string | null {
  const [first = ''] = keys;
  if (PLAIN.includes(first)) return first;
  const field = keys.map((key) => OF_TEST.get(key)).find((found) => found !== undefined);
  if (!field || !keys.includes('when')) return null;
  const after = (key: string) => (keys.includes(key) ? Number(keys[keys.indexOf(key) + 1]) : 0);
  const [level, test] = [after('levels'), after('all') + after('any')];
  return form.levels[level]?.tests[test] ? `${level}.${test}.${field}` : null;
}
