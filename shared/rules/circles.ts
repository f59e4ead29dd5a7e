import type { AlarmRule, NumericCondition } from '../schema/alarm-rule.ts';
import type { RuleIssue } from './issue.ts';

/** Alarms that a condition looks at. */
export function namedAlarms(condition: NumericCondition): readonly string[] {
  if ('alarm' in condition) return [condition.alarm];
  if ('all' in condition) return condition.all.flatMap(namedAlarms);
  if ('any' in condition) return condition.any.flatMap(namedAlarms);
  return 'not' in condition ? namedAlarms(condition.not) : [];
}

/** Rules that lead back to themselves by what they look at or by their causes: each circle once, whole, at the first of its entries in the file. */
export function circleIssues(rules: readonly AlarmRule[], placeOf: ReadonlyMap<string, number>): readonly RuleIssue[] {
  const leadsTo = new Map(rules.map(({ id, levels, because }) => [id, new Set([...because, ...levels.flatMap(({ when }) => namedAlarms(when))])]));
  const issues: RuleIssue[] = [];
  const done = new Set<string>();
  const trail: string[] = [];
  const walk = (id: string): void => {
    const since = trail.indexOf(id);
    if (since >= 0) {
      const circle = trail.slice(since);
      const places = circle.flatMap((one) => placeOf.get(one) ?? []);
      const words = [...circle, id].join(' because of ');
      issues.push({
        path: [Math.min(...places, Number.MAX_SAFE_INTEGER)],
        got: `a circle: ${words}`,
        expected: 'alarms that do not lead back to themselves',
        hint: '',
      });
      return;
    }
    if (done.has(id)) return;
    done.add(id);
    trail.push(id);
    for (const next of leadsTo.get(id) ?? []) walk(next);
    trail.pop();
  };
  for (const { id } of rules) walk(id);
  return issues;
}
