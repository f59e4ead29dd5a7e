declare module 'psychrolib' {
  const psychrolib: {
    readonly SI: number;
    SetUnitSystem(system: number): void;
    GetVapPresFromRelHum(dryBulbC: number, relativeHumidityFrac: number): number;
  };
  export default psychrolib;
}
