/** Addresses that open without a server: the desk's room page, the phone's remote and the wall. */
const ROOM_PATHS = [/^\/case\/[a-z0-9-]{4,64}\/room$/, /^\/remote(\/[a-z0-9-]{4,64})?$/, /^\/wall(\/[a-z0-9-]{4,64})?$/];
export const isRoomPath = (path: string): boolean => ROOM_PATHS.some((form) => form.test(path.replace(/\/$/, '')));
