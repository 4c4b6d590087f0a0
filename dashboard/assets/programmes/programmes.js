// The programme page: starts, watches and stops a comparison, and prices what is done.
(() => {
  const at = (id) => document.getElementById(`programmes-${id}`);
  const form = at("form");
  let timer = 0;
  let asked = 0;

  async function send(what, body) {
    const reply = await fetch(`/programmes/${what}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    if (!reply.ok) throw new Error("The server did not answer as it should; load the page again.");
    return reply.json();
  }
  const prices = () => Object.fromEntries([...form.querySelectorAll(".programmes-prices input")].map((one) => [one.name, one.value]));
  const made = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });

  function table(shown) {
    const head = document.createElement("tr");
    head.append(made("td", ""), ...shown.names.map((name) => Object.assign(made("th", name), { scope: "col" })));
    const rows = shown.rows.map(([label, ...cells]) => {
      const row = document.createElement("tr");
      row.append(Object.assign(made("th", label), { scope: "row" }), ...cells.map((cell) => made("td", cell)));
      return row;
    });
    at("table").replaceChildren(head, ...rows);
  }

  function curves(shown) {
    at("curves").replaceChildren(...shown.curves.map((svg, place) => {
      const figure = document.createElement("figure");
      figure.append(made("figcaption", shown.names[place]), new DOMParser().parseFromString(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" '), "image/svg+xml").documentElement);
      return figure;
    }));
  }

  async function look() {
    clearTimeout(timer);
    const mine = ++asked;
    try {
      const now = await send("now", prices());
      if (mine !== asked) return;
      at("problem").textContent = now.problem;
      at("bar").value = now.asked ? (100 * now.done) / now.asked : 0;
      if (now.running) at("said").textContent = now.done ? `${now.done} of ${now.asked} runs done.` : "Getting ready.";
      else if (now.done) at("said").textContent = now.done < now.asked ? `Stopped: ${now.done} of ${now.asked} runs done, and kept.` : `Done: ${now.done} runs of each programme.`;
      else if (now.simulations) at("said").textContent = "Stopped before any run was done.";
      at("out").hidden = !now.done;
      if (now.shown) {
        curves(now.shown);
        table(now.shown);
        at("verdicts").replaceChildren(...now.shown.verdicts.map((words) => made("li", words)));
      }
      if (now.running) timer = setTimeout(look, 400);
    } catch (error) {
      at("problem").textContent = error.message;
    }
  }

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const keys = [...form.querySelectorAll("[name=programme]:checked")].map((one) => one.value);
    try {
      const reply = await send("start", { programmes: keys, runs: Number(at("runs").value), weeks: Number(at("weeks").value) });
      if (reply.ok) await look();
      else at("problem").textContent = reply.problem;
    } catch (error) {
      at("problem").textContent = error.message;
    }
  });
  at("stop").addEventListener("click", () => send("stop", {}).then(look, (error) => { at("problem").textContent = error.message; }));
  form.querySelector(".programmes-prices").addEventListener("input", look);
  look();
})();
