import type { CallOut } from '../../../../shared/schema/routes.ts';
import { spanText } from './age.ts';

const names = (routes: readonly string[]): string => (routes.length === 0 ? 'nobody' : routes.join(', '));

/** Who is called for a priority: at once, in the quiet hours, and next. */
export function callWords({ first, atNight, then }: CallOut['low']): { readonly first: string; readonly atNight: string; readonly next: string } {
  return {
    first: names(first),
    atNight: atNight === undefined || names(atNight) === names(first) ? 'the same' : names(atNight),
    next: then.length === 0 ? 'nobody else' : then.map(({ after, routes }) => `${names(routes)} after ${spanText(1000 * after)}`).join('; '),
  };
}
