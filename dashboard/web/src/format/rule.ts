import type { RuleView } from '../../../../shared/schema/alarm-book.ts';
import { spanText } from './age.ts';
import type { Titles } from './alarm-words.ts';

/** What goes with the conditions of a rule, in a sentence: its delays, its causes, its routes, and what it does without data. */
export function ruleFacts({ onDelayS, offDelayS, because, routes, unknown }: RuleView, titles: Titles): string {
  const after = onDelayS === 0 ? 'Raised at once' : `Raised after ${spanText(1000 * onDelayS)}`;
  const over = offDelayS === 0 ? 'over at once' : `over after ${spanText(1000 * offDelayS)}`;
  const causes = because.map((id) => `“${titles.get(id) ?? id}”`).join(', ');
  return [
    `${after}, ${over}.`,
    unknown === 'raise' ? 'Without data it raises too.' : 'Without data what stands stays.',
    routes === null ? '' : `Told by ${routes.join(', ')}.`,
    causes === '' ? '' : `Held back while ${causes} ${because.length === 1 ? 'stands' : 'stand'}.`,
  ]
    .filter((text) => text !== '')
    .join(' ');
}
