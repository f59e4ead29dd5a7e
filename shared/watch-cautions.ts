/** What the watch over somebody inside is not, in plain words, to be read before it is armed. Apart from the schemas so that the browser needs no schema library. */
export const WATCH_CAUTIONS: readonly string[] = [
  'This is no life-safety device. Nobody may depend on it alone.',
  'Minutes count. A closed cabin gets deadly for an animal, a child or a frail person within minutes once cooling stops.',
  'An alarm may not arrive. The box, the bank, the mini-split, the network and the phone can each fail, and the warning with them.',
  'Local law may forbid leaving an animal or a child in a vehicle, whatever watches over it.',
  'Two thermometers see two spots. A closed door or direct sun can make another spot far hotter; put one on the floor where they are.',
  'Somebody close by must be able to open the door within minutes.',
];
