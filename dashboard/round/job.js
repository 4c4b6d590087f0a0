/* What is being done at one treatment: steps ticked, how the home was found, what was used. Kept on the phone until
   the treatment is recorded, and thrown away with it. Nothing is ticked or chosen beforehand. */
import { keep } from "../web/storage.js";

export function job(unit, building) {
  const key = `job.${building}.${unit}`;
  const empty = () => ({ ticked: {}, prepared: "", pets: "", opened: "", window: "", signature: "", code: "", celsius: null, products: {} });
  let draft = Object.assign(empty(), keep.get(key, {}));
  const name = (step) => `${step.item}|${step.place || ""}`;
  const bare = (step) => Object.assign({ item: step.item }, step.place ? { place: step.place } : {});
  const J = {
    get: (field) => draft[field],
    put(field, value) { draft[field] = value; keep.try(key, draft); },
    ticked: (step) => !!draft.ticked[name(step)],
    tick(step) {
      if (J.ticked(step)) delete draft.ticked[name(step)];
      else draft.ticked[name(step)] = true;
      keep.try(key, draft);
      return J.ticked(step);
    },
    product: (number) => Object.assign({ name: "", registration: "" }, draft.products[number]),
    putProduct(number, change) { draft.products[number] = Object.assign(J.product(number), change); keep.try(key, draft); },
    /* How many lines to write products on: those that are filled, and one more. */
    lines: () => Object.values(draft.products).filter((one) => one.name).length + 1,
    count: () => Object.keys(draft.ticked).length,
    begun: () => J.count() > 0 || Object.values(draft.products).some((one) => one.name) || !!(draft.prepared || draft.pets || draft.opened || draft.window || draft.signature || draft.code || draft.celsius !== null),
    /* What is sent: the steps of the plan parted into done and left, and only what somebody said. */
    told(steps) {
      const said = Object.fromEntries(["prepared", "pets", "opened", "window", "signature", "code"].filter((field) => draft[field]).map((field) => [field, draft[field]]));
      return Object.assign(said, {
        done: steps.filter(J.ticked).map(bare), left: steps.filter((step) => !J.ticked(step)).map(bare),
        products: Object.values(draft.products).filter((one) => one.name), ...(draft.celsius === null ? {} : { celsius: draft.celsius }),
      });
    },
    drop() { draft = empty(); keep.drop(key); },
  };
  return J;
}
