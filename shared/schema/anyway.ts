export const isGroup = (value: unknown): value is Readonly<Record<string, unknown>> => typeof value === 'object' && value !== null && !Array.isArray(value);

/** For checks over several keys of a group: they run even where another key is wrong, so that every mistake is told at once. */
export const ANYWAY = { when: ({ value }: { value: unknown }) => isGroup(value) };

/** False only for two numbers of which the first is not the larger. */
export const isMore = (more: unknown, less: unknown): boolean => typeof more !== 'number' || typeof less !== 'number' || more > less;
