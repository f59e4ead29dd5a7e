export const TOPICS = { voltage: 'drill/v', current: 'drill/a', cabin: 'drill/cabin' } as const;

/** The rig file of a drill: one rule of its own that is true in a hot cabin, and built-in ones that do not wait long. */
export const rigFile = (brokerPort: number, mailPort: number): string => `
rig: { id: drill, name: Drill }
bank: { cells: 8, capacityAh: 280 }
broker: { url: "mqtt://127.0.0.1:${brokerPort}" }
signals:
  bank.voltage: { topic: ${TOPICS.voltage} }
  bank.current: { topic: ${TOPICS.current} }
  cabin.temperature: { topic: ${TOPICS.cabin} }
routes:
  tablet: { kind: tablet }
  phones: { kind: push }
  post: { kind: mail, server: 127.0.0.1, port: ${mailPort}, security: none, from: rig@drill.example, to: [owner@drill.example] }
callOut:
  quietHours: null
  low: { first: [phones, post] }
  medium: { first: [phones, post] }
  high: { first: [phones, post] }
  repeatEvery: 24 h
briefings: { bedtime: null, morning: false }
alarms:
  - { id: low-point, outOfService: true }
  - { id: broker-lost, onDelay: 10 s }
  - { id: sensor-silent, onDelay: 60 s }
  - id: drill-hot
    title: The cabin in the drill
    when: { watch: cabin.temperature, above: 40 }
    priority: high
    onDelay: 0 s
    unknown: ignore
    message: "The cabin is at {cabin.temperature}."
`;
