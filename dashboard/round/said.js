/* The texts of the phone pages, in the language of whoever opened the page: the page brings them along, so that
   they are there without a connection. */
const node = globalThis.document && document.getElementById("said");
const table = node ? JSON.parse(node.textContent) : {};

export const fill = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => (values && name in values ? String(values[name]) : whole));
export const say = (key, values) => fill(table[key], values);
export const many = (key, number, values) => fill(table[key][number === 1 ? 0 : 1], { number: number, ...values });
/* A word of a small set, such as a place to sleep; one that is not in the table is said as it is. */
export const word = (key, otherwise) => table[key] || otherwise;
/* A text whose values are elements: what stands between them, and they. */
export const parts = (key, values) => table[key].split(/\{(\w+)\}/).map((part, i) => (i % 2 ? values[part] : part));
