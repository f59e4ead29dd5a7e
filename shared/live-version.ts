/** Version of the live channel's events; a client of another version reloads itself. Apart from its schemas so that the browser needs no schema library. */
export const LIVE_VERSION = 1;

/**
 * Event names on the Socket.IO channel. `ping` goes from the client to the server, which acknowledges it at once with the rig's time in ms.
 * `sound` goes from the client to the server with a SoundPermission, once connected and whenever it changes.
 */
export const LIVE_EVENTS = { snapshot: 'snapshot', change: 'change', ping: 'are-you-there', sound: 'sound' } as const;

/** What a screen's browser says of its sound: `blocked` until a touch or a key has allowed it. */
export const SOUND_PERMISSIONS = ['allowed', 'blocked', 'unsupported'] as const;
export type SoundPermission = (typeof SOUND_PERMISSIONS)[number];
