/* Making elements. Text only ever enters through textContent, so that no unit code or note can be markup. */
const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "text") node.textContent = value;
    else if (name === "click") node.addEventListener("click", value);
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return node;
}

export const el = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
export const svgEl = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
export const at = (id) => document.getElementById(id);
