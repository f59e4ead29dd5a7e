import { PRIORITIES, type Priority } from '../../shared/schema/alarm.ts';

const RANK: Readonly<Record<Priority, number>> = { low: 0, medium: 1, high: 2, critical: 3 };

/** A level as a number that rises with it; -1 for none. */
export const rankOf = (level: Priority | null): number => (level === null ? -1 : RANK[level]);
export const lower = (a: Priority | null, b: Priority | null): Priority | null => (rankOf(a) < rankOf(b) ? a : b);
export const higher = (a: Priority | null, b: Priority | null): Priority | null => (rankOf(a) > rankOf(b) ? a : b);
/** True for a text that is a priority. */
export const isPriority = (text: unknown): text is Priority => (PRIORITIES as readonly unknown[]).includes(text);
