export interface Snapshot { readonly tMs: number }
