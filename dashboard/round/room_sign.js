/* The signature of who let in: drawn with a finger, kept as a small photograph like the others, offline too. Who it is
   is told by the role above; there is no field for a name. */
import { at, el } from "../web/elements.js";
import { P } from "./photographs.js";
import { R, button, tell } from "./room_state.js";
import { say } from "./said.js";

const WIDE = 600, HIGH = 220, INK = "#1a1613", PAPER = "#ffffff";
export function drawSignature() {
  if (R.job.get("signature")) return el("p", { class: "set", id: "job-signature" }, el("span", { text: say("sign_kept") }), button(say("sign_drop"), () => { P.forget(R.job.get("signature")).catch(() => {}); R.job.put("signature", ""); again(); }, { class: "quiet" }));
  const pad = el("canvas", { id: "job-pad", width: WIDE, height: HIGH, role: "img", "aria-label": say("sign_here") }), ink = pad.getContext("2d");
  let drawn = 0, last = null;
  const clean = () => { ink.fillStyle = PAPER; ink.fillRect(0, 0, WIDE, HIGH); drawn = 0; };
  const where = (event) => { const box = pad.getBoundingClientRect(); return [(event.clientX - box.left) * WIDE / box.width, (event.clientY - box.top) * HIGH / box.height]; };
  Object.assign(ink, { strokeStyle: INK, lineWidth: 4, lineCap: "round", lineJoin: "round" });
  clean();
  pad.addEventListener("pointerdown", (event) => { pad.setPointerCapture(event.pointerId); last = where(event); event.preventDefault(); });
  pad.addEventListener("pointermove", (event) => {
    if (!last) return;
    const now = where(event);
    ink.beginPath(); ink.moveTo(...last); ink.lineTo(...now); ink.stroke();
    drawn += Math.hypot(now[0] - last[0], now[1] - last[1]);
    last = now;
  });
  for (const end of ["pointerup", "pointercancel"]) pad.addEventListener(end, () => { last = null; });
  const keep = () => {
    if (drawn < 60) { tell(say("sign_first")); return; } /* a touch is no signature */
    pad.toBlob((blob) => P.take(blob).then((name) => { tell(""); R.job.put("signature", name); again(); }, () => tell(say("photograph_not_kept"))), "image/png");
  };
  return el("div", { class: "set", id: "job-signature" }, el("span", { class: "soft", text: say("sign_here") }), pad,
    el("p", { class: "pair" }, button(say("sign_keep"), keep, { id: "job-sign-keep" }), button(say("sign_again"), clean, { class: "quiet" })));
}
function again() { const old = at("job-signature"); if (old) old.replaceWith(drawSignature()); }
