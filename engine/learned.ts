/** What the nightly refit learns. */
export interface Learned { readonly version: number }
export interface RefitContext { readonly timeZone: string }
