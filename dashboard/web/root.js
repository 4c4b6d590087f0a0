/* An address of this building: in an office each stands below the building's own. */
export const root = globalThis.document?.documentElement?.dataset?.root || "";
export const here = (path) => root + path;
