/** How values are written, for the screens; the engine's texts use the same words. */
export {
  countText,
  degreesText,
  degreeUnit,
  energyText,
  percentText,
  pointsText,
  powerText,
  temperatureText,
  type Units,
  valueText,
} from '../../../../shared/value-text.ts';
