const MUTATORS = ['set', 'delete', 'clear'] as const;

function refuse(): never {
  throw new TypeError('this map is frozen');
}

/** Freezes a value and all it holds, Maps included (`Object.freeze` alone leaves their entries open). Gives the same value. */
export function freezeDeep<T>(value: T): T {
  if (typeof value !== 'object' || value === null || Object.isFrozen(value)) return value;
  if (value instanceof Map) {
    for (const item of value.values()) freezeDeep(item);
    for (const name of MUTATORS) Object.defineProperty(value, name, { value: refuse });
  }
  Object.freeze(value);
  for (const item of Object.values(value)) freezeDeep(item);
  return value;
}
