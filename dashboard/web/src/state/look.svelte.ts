export const LOOKS = ['sun', 'day', 'night'] as const;
/** How the look is chosen: by the sun, or held by hand. */
export type LookChoice = (typeof LOOKS)[number];

const KEY = 'dawnhold.look';

function stored(): LookChoice {
  try {
    const text = localStorage.getItem(KEY);
    return LOOKS.find((look) => look === text) ?? 'sun';
  } catch {
    return 'sun';
  }
}

/** Day or night look. Until the sun is known the night look stands: it hurts nobody's eyes. */
export class Look {
  choice = $state<LookChoice>(stored());
  isSunDown = $state(true);
  readonly current = $derived<'day' | 'night'>(this.choice === 'sun' ? (this.isSunDown ? 'night' : 'day') : this.choice);

  choose(choice: LookChoice): void {
    this.choice = choice;
    try {
      localStorage.setItem(KEY, choice);
    } catch {
      // A browser that keeps nothing forgets the choice with the page; the choice stands until then.
    }
  }
}
