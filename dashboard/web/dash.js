/* What our modules and Dash have to do with each other. Dash looks for our functions on `window` when it starts,
   which is after every module of the page has run. */
import { root } from "./root.js";

const dash = (window.dash_clientside = window.dash_clientside || {});

/* The functions that clientside callbacks of the namespace `spread` name. */
export const pages = (dash.spread = dash.spread || {});
export const fill = (id, props) => dash.set_props(id, props);
export const tell = (id, data) => fill(id, { data: data });

const bare = (path) => path.replace(/(.)\/+$/, "$1");
/* A page was laid out for the address that the browser told; where it told none, ask again. */
pages.address = function (path, laidOut) {
  const asked = path.startsWith(`${root}/`) ? path.slice(root.length) : "/";
  return bare(asked) === bare(laidOut) ? dash.no_update : asked;
};
