/* Findings of one room while they are being made: a draft on the phone, item by item and place by place. */
import { keep } from "../web/storage.js";

export function findings(unit, building) {
  const key = `draft.${building}.${unit}`;
  const empty = () => ({ day: "", saved: "", from: "", places: [], found: {} });
  let draft = Object.assign(empty(), keep.get(key, {}));
  const D = {
    get places() { return draft.places; },
    get saved() { return draft.saved; },
    get from() { return draft.saved || draft.from; },
    store() { keep.set(key, draft); },
    /* What was saved on an earlier day is done with; what was never saved waits as long as it must. */
    begin(day, from) {
      if (draft.saved && draft.day !== day) draft = Object.assign(empty(), { places: draft.places });
      draft.day = draft.day || day;
      if (from) draft.from = from;
    },
    setPlaces(kinds) { draft.places = kinds; D.touch(); },
    names() {
      const kinds = draft.places;
      return kinds.map((kind, i) => kinds.filter((one) => one === kind).length > 1 ? `${kind} ${kinds.slice(0, i + 1).filter((one) => one === kind).length}` : kind);
    },
    at: (item, place) => draft.found[`${item}|${place}`],
    of: (item) => Object.values(draft.found).filter((one) => one.item === item),
    put(item, place, change) {
      const id = `${item}|${place}`;
      const one = Object.assign({ item: item, place: place, looked: true, evidence: [] }, draft.found[id], change);
      if (!one.evidence.length) { delete one.stage; delete one.count; delete one.metres; }
      if (one.looked || one.evidence.length || one.state) draft.found[id] = one;
      else delete draft.found[id];
      D.touch();
      return draft.found[id];
    },
    drop(item, place) { delete draft.found[`${item}|${place}`]; D.touch(); },
    touch() { draft.changed = true; try { D.store(); } catch { if (D.onFull) D.onFull(); } },
    get changed() { return !!draft.changed; },
    wasSaved(id, day) { Object.assign(draft, { saved: id, day: day, changed: false }); D.store(); },
    unsave() { Object.assign(draft, { saved: "", changed: true }); D.store(); },
    items: () => Object.values(draft.found).map((one) => {
      const sent = { item: one.item, evidence: one.evidence };
      for (const name of ["place", "stage", "count", "metres", "photo", "state"]) if (one[name] !== undefined && one[name] !== "") sent[name] = one[name];
      return sent;
    }),
  };
  return D;
}
