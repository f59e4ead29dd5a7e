import { CATALOGUE, LACKS, type RigPart } from '../quantities.ts';
import type { AlarmRule, NumericCondition } from '../schema/alarm-rule.ts';

const watchedBy = (condition: NumericCondition): readonly string[] => {
  if ('watch' in condition) return [condition.watch];
  if ('all' in condition) return condition.all.flatMap(watchedBy);
  if ('any' in condition) return condition.any.flatMap(watchedBy);
  return 'not' in condition ? watchedBy(condition.not) : [];
};

/** The rules, with those that ask for a part which the rig file does not name marked as not watched. */
export function withoutParts(rules: readonly AlarmRule[], has: (part: RigPart) => boolean): readonly AlarmRule[] {
  return rules.map((rule) => {
    if (rule.notWatched !== '') return rule;
    const asked = rule.levels.flatMap(({ when }) => watchedBy(when)).flatMap((name) => CATALOGUE.get(name)?.parts ?? []);
    const lacking = asked.find((part) => !has(part));
    return lacking === undefined ? rule : { ...rule, notWatched: LACKS[lacking] };
  });
}
