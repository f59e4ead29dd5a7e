import { createEmbeddedBroker } from '../../collector/mqtt/broker.ts';

/** A broker of its own on the port of the first argument, to be killed. */
const broker = createEmbeddedBroker({ listen: '127.0.0.1', port: Number(process.argv[2]), secrets: null });
await broker.start({ onMessage: () => undefined, onStatus: () => undefined });
