/* The readings of one heat job while it runs, kept on the phone until they go with the treatment. */
import { keep } from "../web/storage.js";

export const MOST = 3000; /* readings of one job, as `spread.records.jobs` keeps */
export function heatLog(unit, building) {
  const key = `heat.${building}.${unit}`;
  const empty = () => ({ rooms: 1, began: 0, scale: "", probes: [] });
  let draft = Object.assign(empty(), keep.get(key, {}));
  const store = () => keep.set(key, draft);
  const count = () => draft.probes.reduce((sum, [, readings]) => sum + readings.length, 0);
  const H = {
    get rooms() { return draft.rooms; },
    get began() { return draft.began; },
    get scale() { return draft.scale; },
    get probes() { return draft.probes; },
    get begun() { return count() > 0; },
    put(change) { Object.assign(draft, change); store(); },
    /* Returns whether it was added: two probes at one place cannot be told apart. */
    add(place) {
      if (!place || draft.probes.some(([name]) => name === place)) return false;
      draft.probes.push([place, []]);
      store();
      return true;
    },
    drop(place) { draft.probes = draft.probes.filter(([name]) => name !== place); store(); },
    /* Returns whether they were kept: later than what is there, and not too many. */
    read(place, readings, began) {
      const mine = draft.probes.find(([name]) => name === place)[1], last = mine.length ? mine[mine.length - 1][0] : -1;
      if (!readings.length || readings[0][0] <= last || count() + readings.length > MOST) return false;
      mine.push(...readings);
      draft.began = draft.began || began;
      store();
      return true;
    },
    takeBack(place) { draft.probes.find(([name]) => name === place)[1].pop(); if (!count()) draft.began = 0; store(); },
    told: () => ({ rooms: draft.rooms, probes: draft.probes.filter(([, readings]) => readings.length).map(([place, readings]) => ({ place: place, readings: readings })) }),
    forget() { draft = empty(); keep.drop(key); },
  };
  return H;
}
