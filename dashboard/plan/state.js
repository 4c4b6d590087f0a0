/* What the modules of the plan page know together: what the server told and what is shown of it. */
export const state = {
  geometry: null, paint: null, lists: null, floor: null, selected: null, words: null, shape: "one", then: null, weeks: null, past: null,
  patience: 10000, /* ms until we say that no reply came */
};
