/** Version of the live channel's events; a client of another version reloads itself. Apart from its schemas so that the browser needs no schema library. */
export const LIVE_VERSION = 1;

/** Event names on the Socket.IO channel. `ping` goes from the client to the server, which acknowledges it at once with the rig's time in ms. */
export const LIVE_EVENTS = { snapshot: 'snapshot', change: 'change', ping: 'are-you-there' } as const;
