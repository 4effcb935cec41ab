// The search's script: every word must be somewhere in a find; finds in titles
// come first, whole words before parts. The index came with the page; nothing
// is sent. The words stand in the address's fragment, so a search can be kept.
"use strict";
(() => {
  const data = globalThis.folioSearch;
  const form = document.getElementById("search");
  if (!data || !form) return;
  const field = document.getElementById("query");
  const list = document.getElementById("results");
  const count = document.getElementById("count");
  const {say} = globalThis.folioWords(data.words);
  const MOST = 50;
  // Letters without their marks, so that "Oberlander" finds "Oberländer", and
  // without the isolates around names that run from right to left.
  const plain = (text) => text.normalize("NFKD").replace(/[\p{M}\u2068\u2069]/gu, "").toLowerCase();
  const entries = data.entries.map(([title, path, kind, text]) =>
    ({title, path, kind, text, inTitle: plain(title), inAll: plain(`${title} ${kind} ${text}`)}));
  const make = (name, properties = {}, ...children) => {
    const element = document.createElement(name);
    Object.assign(element, properties);
    element.append(...children);
    return element;
  };

  function weigh(entry, words) {
    let weight = 0;
    for (const word of words) {
      if (!entry.inAll.includes(word)) return 0;
      const title = ` ${entry.inTitle}`;
      weight += title.includes(` ${word}`) ? 4 : entry.inTitle.includes(word) ? 3 : entry.inAll.includes(` ${word}`) ? 2 : 1;
    }
    return weight;
  }
  function href(path) {
    const [file, fragment] = path.split("#");
    return data.root + file + (file === "" || file.endsWith("/") ? "index.html" : "") + (fragment ? `#${fragment}` : "");
  }
  function update() {
    const words = plain(field.value).split(/\s+/).filter(Boolean);
    const found = words.length === 0 ? []
      : entries.map((entry) => [weigh(entry, words), entry]).filter(([weight]) => weight > 0).sort(([a], [b]) => b - a);
    count.textContent = words.length === 0 ? ""
      : found.length === 0 ? say("Nothing found. Try fewer words, or a part of one.")
      : found.length > MOST ? say("{n} found, the first {most}:", {n: found.length, most: MOST}) : say("{n} found", {n: found.length});
    list.replaceChildren(...found.slice(0, MOST).map(([, entry]) => make("li", {},
      make("a", {href: href(entry.path), dir: "auto"}, entry.title), " ", make("span", {className: "aside"}, entry.kind),
      make("p", {}, entry.text))));
    const state = new URLSearchParams();
    if (field.value.trim()) state.set("q", field.value.trim());
    history.replaceState(null, "", "#" + state.toString());
  }
  function read() {
    field.value = new URLSearchParams(location.hash.slice(1)).get("q") ?? "";
  }

  form.addEventListener("input", update);
  form.addEventListener("submit", (event) => event.preventDefault());
  addEventListener("hashchange", () => { read(); update(); });
  read();
  form.hidden = false;
  update();
})();
