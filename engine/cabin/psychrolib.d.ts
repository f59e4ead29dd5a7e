declare module 'psychrolib' {
  const psychrolib: {
    readonly SI: number;
    SetUnitSystem(system: number): void;
    GetTDewPointFromRelHum(dryBulbC: number, relativeHumidityFrac: number): number;
    GetVapPresFromRelHum(dryBulbC: number, relativeHumidityFrac: number): number;
  };
  export default psychrolib;
}
