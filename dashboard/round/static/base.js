/* Shared by the phone pages: making elements, what is kept on the phone, words for distance and time.
   Text only ever enters through textContent, so that no unit code or note can be markup. */
(function () {
  "use strict";
  const F = (window.Field = window.Field || {});

  F.el = function (tag, attributes, ...children) {
    const node = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value === null || value === undefined || value === false) continue;
      if (name === "text") node.textContent = value;
      else node.setAttribute(name, value === true ? "" : value);
    }
    node.append(...children.flat().filter((child) => child !== null && child !== undefined));
    return node;
  };
  F.at = (id) => document.getElementById(id);

  F.newId = function () {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  };

  /* localStorage: it is written before the next line runs, so an answer is kept before the page moves on. */
  const MARK = "spread.";
  F.keep = {
    get(key, otherwise) {
      try {
        const text = localStorage.getItem(MARK + key);
        return text === null ? otherwise : JSON.parse(text);
      } catch { return otherwise; }
    },
    set(key, value) { /* throws when the phone has no room: the caller says so and does not move on */
      localStorage.setItem(MARK + key, JSON.stringify(value));
    },
    try(key, value) { try { this.set(key, value); } catch { /* a list that can be fetched again */ } },
    drop(key) { try { localStorage.removeItem(MARK + key); } catch { /* nothing kept, nothing to drop */ } },
    keys(start) {
      const found = [];
      try {
        for (let i = 0; i < localStorage.length; i += 1) {
          const key = localStorage.key(i);
          if (key.startsWith(MARK + start)) found.push(key.slice(MARK.length));
        }
      } catch { /* storage is switched off: F.storageWorks says so */ }
      return found;
    },
  };
  F.storageWorks = function () {
    try { F.keep.set("try", 1); F.keep.drop("try"); return true; } catch { return false; }
  };

  /* The switch of the desk pages counts here too; where it was never pressed, the region of the language. */
  const chosen = (() => { try { return localStorage.getItem("spread-measures"); } catch { return null; } })();
  const FEET = chosen ? chosen === "feet" : /-(US|LR|MM)$/i.test(navigator.language || "");
  F.feet = FEET;
  F.distance = (metres) => FEET ? `${Math.max(5, Math.round(metres * 3.2808 / 5) * 5)} ft` : `${Math.max(1, Math.round(metres))} m`;
  const speak = new Intl.DateTimeFormat(undefined, { weekday: "short", day: "numeric", month: "short", year: "numeric" });
  F.speakDay = (day) => speak.format(new Date(`${day}T12:00:00`));
  /* The server's words are in metres, and some name days by their figures: both as the reader writes them. */
  F.local = (words) => measured(words).replace(/\b\d{4}-\d\d-\d\d\b/g, F.speakDay);
  const measured = (words) => FEET ? words.replace(/(\d+(?:\.\d+)?) m\b/g, (_, metres) => metres < 6 ? `${Math.round(metres * 3.2808)} ft` : F.distance(metres)) : words;
  F.clock = (date) => date.toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });
  F.many = (number, one, more) => `${number} ${number === 1 ? one : more}`;

  const local = (date) => Date.UTC(date.getFullYear(), date.getMonth(), date.getDate()) / 864e5;
  /* The day that an answer is for: the server's, moved on by the midnights since it was told.
     So a wrong clock on the phone does no harm, and an answer kept overnight keeps its day. */
  F.day = function (day, live, got) {
    if (!live) return day;
    const passed = Math.max(0, local(new Date()) - local(new Date(got)));
    return new Date(Date.parse(day) + passed * 864e5).toISOString().slice(0, 10);
  };
})();
