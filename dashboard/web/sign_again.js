/* A sign-in ends while a page is open: say so once, and lose nothing that was typed. */
const ask = window.fetch;
function say() {
  if (document.getElementById("sign-again")) return;
  const bar = document.createElement("p");
  bar.id = "sign-again";
  bar.className = "sign-again";
  bar.setAttribute("role", "alert");
  const link = document.createElement("a");
  link.href = "/sign-in";
  link.target = "_blank";
  link.textContent = "Sign in again";
  bar.append("Your sign-in has ended. What you typed is still here. ", link, " in a new tab, then press again here.");
  document.body.prepend(bar);
}
window.fetch = async function (...asked) {
  const reply = await ask.apply(this, asked);
  if (reply.status === 401) {
    say();
    /* Dash looks into a 401 for a token that it could renew, and trips over one without. */
    return new Response(null, { status: 403 });
  }
  if (reply.ok && document.getElementById("sign-again") && new URL(reply.url).origin === location.origin) document.getElementById("sign-again").remove();
  return reply;
};
