declare module 'subset-font' {
  /** Gives a font with the characters of `text` alone, and within a range of its variable axes. */
  export default function subsetFont(
    font: Buffer,
    text: string,
    options: { readonly targetFormat: 'woff2'; readonly variationAxes: Readonly<Record<string, { readonly min: number; readonly max: number }>> },
  ): Promise<Buffer>;
}
