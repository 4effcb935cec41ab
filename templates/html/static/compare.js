// The comparison's script: sort, filter, set side by side, draw, save.
//
// The page is a table without it. The script reads compare/data.js, and of a long
// folio compare/rows.js once the page answers, keeps its state in the address's
// fragment, so that it can be shared and works from a disk, and draws only the rows
// in view once the table is long. It sends nothing.
"use strict";
(() => {
  const data = globalThis.folioCompare;
  const table = document.getElementById("compare");
  if (!data || !table) return;
  const $ = (id) => document.getElementById(id);
  const {say, number: written, name} = globalThis.folioWords(data.words);

  // The rows lie by column, each column a list of JSON in a text, which is read when
  // something of it is asked: ten thousand shoes are sorted by one column, and few are
  // seen. `lists` holds the shoes in the page until all have come.
  let lists = null;
  let whole = false;
  const list = (of, key) => (typeof of[key] === "string" ? (of[key] = JSON.parse(of[key])) : of[key]);
  class Shoe {
    #at;
    #text;
    constructor(at) { this.#at = at; }
    #get(key) { return list(lists, key)[this.#at]; }
    get at() { return this.#at; }
    get path() { return this.#get("path"); }
    get title() { return this.#get("title"); }
    get maker() { return this.#get("maker"); }
    get category() { return this.#get("category"); }
    get price() { return this.#get("price"); }
    get amount() { return this.#get("amount"); }
    get currency() { return this.#get("currency"); }
    get slug() { return this.path.split("/")[1] ?? this.path; }
    get text() { return (this.#text ??= this.title.toLowerCase()); }
  }
  const shoes = [];
  const columns = data.columns;
  const categories = new Map(data.categories);
  let slugs = null;
  const bySlug = (slug) => (slugs ??= new Map(shoes.map((shoe) => [shoe.slug, shoe]))).get(slug);
  function have(rows) {
    lists = rows;
    while (shoes.length < list(lists, "path").length) shoes.push(new Shoe(shoes.length));
    whole = shoes.length === data.shoes;
    slugs = null;
  }
  have(data.rows);
  const MOST = 4;           // shoes side by side
  const LONG = data.long;   // more rows than this are drawn only as far as they are in view
  const STEP = 8;           // rows that come and go together then
  const ROW = 40;           // height of a row then, px, until one is measured
  const ROOM = 0.82;        // share of the window that the table is high then, at most
  const SOME = 8;           // columns that are read at a time
  const number = (shoe, column) => list(lists.cells[column], "number")[shoe.at];
  const spread = (shoe, column) => list(lists.cells[column], "spread")[shoe.at];
  // What a cell says, with its band where it has one; null if it was not judged.
  function cell(shoe, column) {
    const of = lists.cells[column];
    if (!of.band) {
      const text = list(of, "text")[shoe.at];
      return text === null ? null : {text};
    }
    const band = list(of, "band")[shoe.at];
    return band === null ? null : {text: columns[column].bands[band >> 1], band: band >> 1, borderline: band % 2 === 1};
  }

  const make = (name, properties = {}, ...children) => {
    const element = document.createElement(name);
    for (const [key, value] of Object.entries(properties)) {
      if (key in element && key !== "list") element[key] = value;
      else element.setAttribute(key, value);
    }
    element.append(...children);
    return element;
  };
  const svg = (name, attributes = {}, ...children) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    element.append(...children);
    return element;
  };

  // Numbers as the folio prints them: to the places of the uncertainty with two
  // significant digits (JCGM 100, 7.2.6), at most those of the column.
  const STEPS = 1e5;        // numbers come with five decimals
  // Rounds half to even.
  function fixed(value, places) {
    const step = STEPS / 10 ** places;
    const all = Math.round(Math.abs(value) * STEPS);
    let count = Math.floor(all / step);
    const rest = all - count * step;
    if (rest * 2 > step || (rest * 2 === step && count % 2 === 1)) count += 1;
    return written((value < 0 && count > 0 ? "−" : "") + (count / 10 ** places).toFixed(places));
  }
  function placesOf(u, most) {
    for (let places = 0; places < most; places += 1) if (u * 10 ** places >= 9.95) return places;
    return most;
  }
  // A number with its ±, which is never rounded to nothing; without one where the
  // uncertainty is not known, or nothing of it is left.
  function figure(value, u, places) {
    const most = Math.min(places, 5);
    if (!u) return fixed(value, Math.max(0, most - 1));
    const shown = placesOf(u, most);
    return `${fixed(value, shown)} ± ${fixed(Math.max(u, 10 ** -shown), shown)}`;
  }
  // The figure of a cell: a score, or the number as it stands in the table.
  const reading = (shoe, at) => (columns[at].kind === "band" ? figure(number(shoe, at), spread(shoe, at), columns[at].places) : cell(shoe, at).text);
  // A score held at the end of its scale, beyond which the shoe lies.
  const held = (shoe, at) => columns[at].kind === "band" && spread(shoe, at) === 0 && [0, 100].includes(number(shoe, at));
  const href = (shoe) => data.root + shoe.path + (shoe.path.endsWith("/") ? "index.html" : "");

  // State, and the address that holds it.
  const state = {sort: "", down: false, text: "", category: "", maker: "", bands: {}, price: ["", ""], mass: ["", ""],
    pick: [], x: "", y: "", picture: false};
  const mass = columns.findIndex((column) => column.key === "mass");
  function read() {
    const from = new URLSearchParams(location.hash.slice(1));
    const range = (key) => {
      const [low = "", high = ""] = (from.get(key) ?? "").split("~");
      return [low, high].map((part) => (part !== "" && Number.isFinite(Number(part)) ? part : ""));
    };
    const sort = from.get("sort") ?? "";
    state.down = sort.startsWith("-");
    state.sort = sort.replace(/^-/, "");
    if (!["", "title", "category", "price"].includes(state.sort) && !columns.some((c) => c.key === state.sort)) state.sort = "";
    state.text = from.get("text") ?? "";
    state.category = categories.has(from.get("category")) ? from.get("category") : "";
    state.maker = from.get("maker") ?? "";
    state.price = range("price");
    state.mass = range("mass");
    state.bands = {};
    columns.forEach((column, at) => {
      const band = from.get("is-" + column.key);
      if (column.kind === "band" && /^\d+$/.test(band ?? "") && Number(band) < column.bands.length) state.bands[at] = Number(band);
    });
    state.pick = (from.get("pick") ?? "").split(",").filter((slug) => slug && (!whole || bySlug(slug))).slice(0, MOST);
    const axis = (key) => { const at = columns.findIndex((column) => column.key === from.get(key)); return at < 0 ? "" : at; };
    state.x = axis("x");
    state.y = axis("y");
    state.picture = from.has("x") && from.has("y");
  }
  function write() {
    const to = new URLSearchParams();
    if (state.sort) to.set("sort", (state.down ? "-" : "") + state.sort);
    for (const key of ["text", "category", "maker"]) if (state[key]) to.set(key, state[key]);
    for (const [at, band] of Object.entries(state.bands)) to.set("is-" + columns[at].key, band);
    for (const key of ["price", "mass"]) if (state[key].some(Boolean)) to.set(key, state[key].join("~"));
    if (state.pick.length) to.set("pick", state.pick.join(","));
    if (state.picture && state.x !== "" && state.y !== "") { to.set("x", columns[state.x].key); to.set("y", columns[state.y].key); }
    const hash = to.toString().replaceAll("%2C", ",").replaceAll("%7E", "~");
    history.replaceState(null, "", hash ? "#" + hash : "#");
    return hash;
  }

  // Which shoes, in which order. Shoes without the figure come last either way.
  let shown = shoes;
  function select() {
    const words = state.text.toLowerCase().split(/\s+/).filter(Boolean);
    const bands = Object.entries(state.bands);
    const within = (value, [low, high]) => value !== null && (low === "" || value >= Number(low)) && (high === "" || value <= Number(high));
    const asked = (range) => range.some(Boolean);
    const [price, weight] = [asked(state.price), asked(state.mass) && mass >= 0];
    shown = shoes.filter((shoe) =>
      (!state.category || shoe.category === state.category)
      && (!state.maker || shoe.maker === state.maker)
      && words.every((word) => shoe.text.includes(word))
      && bands.every(([at, band]) => cell(shoe, at)?.band === band)
      && (!price || within(shoe.amount, state.price))
      && (!weight || within(number(shoe, mass), state.mass)));
    const at = columns.findIndex((column) => column.key === state.sort);
    const value = at >= 0 ? (shoe) => number(shoe, at)
      : state.sort === "price" ? (shoe) => shoe.amount
      : state.sort === "category" ? (shoe) => categories.get(shoe.category) ?? shoe.category
      : null;
    const sign = state.down ? -1 : 1;
    if (value) {
      const keyed = shown.map((shoe) => [value(shoe), shoe]);
      keyed.sort(([a], [b]) => (a === null ? (b === null ? 0 : 1) : b === null ? -1 : a < b ? -sign : a > b ? sign : 0));
      shown = keyed.map(([, shoe]) => shoe);
    } else if (state.sort === "title" && state.down) {
      shown = shown.toReversed ? shown.toReversed() : [...shown].reverse();
    }
  }

  // The table.
  const frame = $("frame");
  const head = table.tHead;
  const body = table.tBodies[0];
  const keys = ["title", "category", "price", ...columns.map((column) => column.key)];
  [...head.rows[0].cells].forEach((cell, at) => {
    const button = make("button", {type: "button"}, ...cell.childNodes);
    button.addEventListener("click", () => {
      const now = state.sort || "title";
      state.down = now === keys[at] ? !state.down : false;
      state.sort = keys[at];
      frame.scrollTop = 0;
      update();
    });
    cell.append(button);
  });
  head.rows[0].prepend(make("th", {scope: "col", className: "pick"}, make("span", {className: "visually-hidden"}, say("Side by side"))));

  const marks = new Map();
  function mark(band, of, borderline) {
    const key = `${band} ${of} ${borderline}`;
    if (!marks.has(key)) marks.set(key, newMark(band, of, borderline));
    return marks.get(key).cloneNode(true);
  }
  function newMark(band, of, borderline) {
    return svg("svg", {class: "mark", viewBox: `0 0 ${of} 1`, preserveAspectRatio: "none", "aria-hidden": "true"},
      svg("rect", {class: "cells", width: of, height: 1}),
      svg("rect", {class: borderline ? "cell borderline" : "cell", x: band, width: 1, height: 1}));
  }
  function fill(target, shoe, at) {
    const said = cell(shoe, at);
    if (!said) {
      target.className = "absent";
      target.append(say("not judged"));
      return target;
    }
    if (columns[at].kind === "band") {
      if (said.band !== undefined) target.append(mark(said.band, columns[at].bands.length, said.borderline ? 1 : 0), " ");
      target.append(said.text);
      if (said.borderline) target.append(" ", make("em", {className: "flag"}, say("borderline")));
    } else {
      target.className = "num";
      target.append(said.text);
    }
    return target;
  }
  const drawn = new WeakMap();
  // The page's own rows are the first by title; they are taken over as they stand.
  const own = new Map([...body.rows].map((one, at) => [shoes[at], one]));
  function row(shoe) {
    let made = drawn.get(shoe);
    if (!made) {
      const box = make("input", {type: "checkbox", "aria-label": say("Side by side: {shoe}", {shoe: shoe.title})});
      box.addEventListener("change", () => pick(shoe.slug, box.checked));
      made = own.get(shoe) ?? make("tr", {},
        make("th", {scope: "row"}, make("a", {href: href(shoe), dir: "auto"}, shoe.title)),
        make("td", {}, categories.get(shoe.category) ?? shoe.category),
        shoe.price === null ? make("td", {className: "num absent"}, say("not stated")) : make("td", {className: "num"}, shoe.price),
        ...columns.map((_, at) => fill(make("td"), shoe, at)));
      made.prepend(make("td", {className: "pick"}, box));
      if (data.shoes > LONG) made.cells[1].firstElementChild.title = shoe.title;
      drawn.set(shoe, made);
    }
    const box = made.firstChild.firstChild;
    box.checked = state.pick.includes(shoe.slug);
    box.disabled = !box.checked && state.pick.length >= MOST;
    return made;
  }

  // Of a long table only the rows in view are there, between two empty ones as
  // high as the rest; the frame scrolls, so that the page's own height is calm.
  const width = columns.length + 4;
  const gap = () => make("tr", {"aria-hidden": "true"}, make("td", {colSpan: width, className: "gap"}));
  const above = gap();
  const below = gap();
  let height = ROW;
  let from = -1;
  let to = -1;
  // What of the rows is seen. To ask has a browser lay the page out at once, so it
  // is asked before anything is changed, and not at all before the first is seen.
  let view = {top: 0, room: innerHeight * ROOM};
  let seen = false;
  const look = () => { if (seen) view = {top: frame.scrollTop, room: frame.clientHeight}; };
  // Widths found for the first rows hold for the rest: columns do not jump about
  // as rows come and go, and a browser need not look at every cell again.
  let frozen = false;
  function freeze() {
    const cells = [...head.rows[0].cells];
    const widths = cells.map((cell) => Math.ceil(cell.getBoundingClientRect().width));
    cells.forEach((cell, at) => { cell.style.width = `${widths[at]}px`; });
    table.style.width = `${widths.reduce((sum, one) => sum + one, 0)}px`;
    table.style.tableLayout = "fixed";
    frozen = true;
  }
  function thaw() {
    for (const cell of head.rows[0].cells) cell.style.width = "";
    table.style.width = table.style.tableLayout = "";
    frozen = false;
  }
  // Once rows have been seen as they are: their height and widths hold from then on,
  // and those around them are made.
  function settle() {
    if (many() <= LONG) return;
    seen = true;
    look();
    if (!frozen) {
      height = above.nextElementSibling.getBoundingClientRect().height || height;
      freeze();
    }
    draw(false);
  }
  // The columns, some at a time, so that whoever asks for one finds it read.
  function readOn() {
    const unread = [lists, ...lists.cells].flatMap((of) => Object.keys(of).filter((key) => typeof of[key] === "string").map((key) => [of, key]));
    for (const [of, key] of unread.slice(0, SOME)) list(of, key);
    if (unread.length > SOME) setTimeout(readOn);
  }
  const settleSoon = () => requestAnimationFrame(() => setTimeout(settle, 50));
  // Rows that stand where they belong are left alone.
  function place(rows) {
    const stay = new Set(rows);
    for (const one of [...body.rows]) if (!stay.has(one)) one.remove();
    let at = body.firstElementChild;
    for (const one of rows) {
      if (one === at) at = at.nextElementSibling;
      else body.insertBefore(one, at);
    }
  }
  // How many rows there are, those that have yet to come among them.
  const many = () => (whole ? shown.length : data.shoes);
  function draw(always) {
    const long = many() > LONG;
    table.setAttribute("aria-rowcount", many() + 1);
    if (frame.classList.contains("long") !== long) {
      frame.classList.toggle("long", long);
      look();
    }
    const focus = body.contains(document.activeElement) ? document.activeElement : null;
    if (!long) {
      if (frozen) thaw();
      place(shown.map(row));
      from = to = -1;
    } else {
      // By steps of some rows, so that most frames of a scroll have nothing to do. What
      // is asked for anew is drawn as far as it is seen, and the rest when it was.
      const ahead = always ? 0 : STEP;
      const first = Math.max(0, Math.floor(view.top / height / STEP) * STEP - ahead);
      const last = Math.min(shown.length, Math.ceil((view.top + view.room) / height / STEP) * STEP + ahead);
      if (!always && first === from && last === to) return;
      const stays = (at) => !always && at >= from && at < to;
      const rows = shown.slice(first, last).map((shoe, nth) => {
        if (stays(first + nth)) return drawn.get(shoe);
        const one = row(shoe);
        one.setAttribute("aria-rowindex", first + nth + 2);
        return one;
      });
      from = first;
      to = last;
      above.firstChild.style.height = `${first * height}px`;
      below.firstChild.style.height = `${(many() - last) * height}px`;
      place([above, ...rows, below]);
      if (always) settleSoon();
    }
    if (focus && focus !== document.activeElement && body.contains(focus)) focus.focus({preventScroll: true});
  }
  let waiting = false;
  frame.addEventListener("scroll", () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; settle(); });
  }, {passive: true});

  // Side by side. Two figures differ if they lie further apart than the expanded
  // uncertainty of their difference, the root of the sum of squares, taken as
  // independent (JCGM 100, 5.1.2); within it they are said to be alike.
  function pick(slug, on) {
    state.pick = on ? [...state.pick, slug].slice(0, MOST) : state.pick.filter((other) => other !== slug);
    write();
    (from < 0 ? shown : shown.slice(from, to)).forEach(row);
    side();
  }
  function versus(shoe, first, at) {
    const [a, b] = [number(shoe, at), number(first, at)];
    const [ua, ub] = [spread(shoe, at), spread(first, at)];
    if (a === null || b === null) return [say("cannot be compared"), false];
    if (ua === null || ub === null) return [say("uncertainty not known"), false];
    const apart = a - b;
    const sure = Math.hypot(ua, ub);
    if (apart === 0 && held(shoe, at) && held(first, at)) return [say("both beyond the scale"), false];
    if (Math.abs(apart) <= sure) return [say("alike within the uncertainties"), false];
    const by = figure(Math.abs(apart), sure, columns[at].places);
    return [apart > 0 ? say("{by} higher", {by}) : say("{by} lower", {by}), true];
  }
  function side() {
    const picked = state.pick.map(bySlug).filter(Boolean);
    $("side-by-side").hidden = picked.length === 0;
    if (!picked.length) return;
    $("side-note").textContent = picked.length === 1
      ? say("Pick up to three more in the table to see where they differ.")
      : say("Each is set against {shoe}. A difference is named only where it is beyond both figures’ uncertainty; scores are of 100.", {shoe: picked[0].title});
    const remove = (shoe) => {
      const button = make("button", {type: "button", "aria-label": say("Take away {shoe}", {shoe: shoe.title})}, say("take away"));
      button.addEventListener("click", () => { pick(shoe.slug, false); ($("side-by-side").hidden ? frame : $("side-table").querySelector("button") ?? frame).focus(); });
      return button;
    };
    const heads = make("tr", {}, make("td"), ...picked.map((shoe) =>
      make("th", {scope: "col"}, make("a", {href: href(shoe), dir: "auto"}, shoe.title), remove(shoe))));
    const rows = columns.map((column, at) => make("tr", {},
      make("th", {scope: "row"}, column.label + (column.unit ? `, ${column.unit}` : "")),
      ...picked.map((shoe, nth) => {
        const box = fill(make("td"), shoe, at);
        box.classList.remove("num");
        if (column.kind === "band" && number(shoe, at) !== null) {
          const score = say("score {score}", {score: reading(shoe, at)});
          box.append(make("span", {className: "versus"}, held(shoe, at) ? `${score}, ${say("beyond the scale")}` : score));
        }
        if (nth > 0) {
          const [words, beyond] = versus(shoe, picked[0], at);
          box.append(make("span", {className: beyond ? "versus beyond" : "versus"}, words));
        }
        return box;
      })));
    $("side-table").replaceChildren(
      make("caption", {className: "visually-hidden"}, say("The picked shoes side by side")),
      make("thead", {}, heads), make("tbody", {}, ...rows));
  }

  // The picture: every shown shoe by two figures, with whiskers while they can be
  // told apart. One point at a time can be reached; arrow keys go to the next.
  const W = 800, H = 440;
  function ticks(low, high) {
    const rough = (high - low) / 6 || 1;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((n) => n * power).find((n) => n >= rough);
    const list = [];
    for (let at = Math.ceil(low / step) * step; at <= high + step / 1e6; at += step) list.push(Number(at.toFixed(6)));
    return list;
  }
  function picture() {
    const plot = $("plot");
    plot.replaceChildren();
    $("plot-reading").textContent = "";
    if (!state.picture || state.x === "" || state.y === "") return;
    const [x, y] = [state.x, state.y];
    // Where an uncertainty is not known there is no whisker.
    const points = shown.filter((shoe) => number(shoe, x) !== null && number(shoe, y) !== null)
      .map((shoe) => ({shoe, x: number(shoe, x), y: number(shoe, y), ux: spread(shoe, x) ?? 0, uy: spread(shoe, y) ?? 0}))
      .sort((a, b) => a.x - b.x || a.y - b.y);
    if (!points.length) {
      $("plot-reading").textContent = say("No shoe in the table has both figures.");
      return;
    }
    const crowd = points.length > 300;
    const range = (value, u) => {
      let low = Infinity, high = -Infinity;
      for (const p of points) { low = Math.min(low, value(p) - (crowd ? 0 : u(p))); high = Math.max(high, value(p) + (crowd ? 0 : u(p))); }
      const pad = (high - low) * 0.04 || 1;
      return [low - pad, high + pad];
    };
    const [x0, x1] = range((p) => p.x, (p) => p.ux);
    const [y0, y1] = range((p) => p.y, (p) => p.uy);
    const px = (value) => ((value - x0) / (x1 - x0) * W).toFixed(1);
    const py = (value) => (H - (value - y0) / (y1 - y0) * H).toFixed(1);
    const called = (column) => column.label + (column.kind === "band" ? `, ${say("score of 100")}` : column.unit ? `, ${column.unit}` : "");
    const words = say("{up} against {across} of {n} shoes", {up: called(columns[y]), across: called(columns[x]), n: points.length});
    const root = svg("svg", {class: crowd ? "plot many" : "plot", viewBox: `-70 -14 ${W + 84} ${H + 70}`, role: "group", "aria-label": words});
    for (const at of ticks(x0, x1)) {
      root.append(svg("path", {class: "grid", d: `M${px(at)} 0V${H}`}), svg("text", {x: px(at), y: H + 22, "text-anchor": "middle"}, written(String(at).replace("-", "−"))));
    }
    for (const at of ticks(y0, y1)) {
      root.append(svg("path", {class: "grid", d: `M0 ${py(at)}H${W}`}), svg("text", {x: -10, y: py(at), dy: 5, "text-anchor": "end"}, written(String(at).replace("-", "−"))));
    }
    root.append(
      svg("path", {class: "axis", d: `M0 0V${H}H${W}`}),
      svg("text", {x: W / 2, y: H + 48, "text-anchor": "middle"}, called(columns[x])),
      svg("text", {transform: `translate(-52 ${H / 2}) rotate(-90)`, "text-anchor": "middle"}, called(columns[y])));
    const whiskers = (p) => `M${px(p.x - p.ux)} ${py(p.y)}H${px(p.x + p.ux)}M${px(p.x)} ${py(p.y - p.uy)}V${py(p.y + p.uy)}`;
    if (!crowd) root.append(svg("path", {class: "whiskers", d: points.map(whiskers).join("")}));
    root.append(svg("path", {class: "dots", d: points.map((p) => `M${px(p.x)} ${py(p.y)}h0`).join("")}));
    const cross = svg("path", {class: "here"});
    const dot = svg("circle", {class: "here-dot", r: 6});
    const link = svg("a", {tabindex: 0}, cross, dot);
    root.append(link);
    let here = 0;
    const go = (at, aloud) => {
      here = (at + points.length) % points.length;
      const p = points[here];
      cross.setAttribute("d", whiskers(p));
      dot.setAttribute("cx", px(p.x));
      dot.setAttribute("cy", py(p.y));
      link.setAttribute("href", href(p.shoe));
      const unit = (column) => (column.kind === "band" || !column.unit ? "" : ` ${column.unit}`);
      const told = (at) => `${columns[at].label} ${reading(p.shoe, at)}${unit(columns[at])}`;
      const text = `${name(p.shoe.title)}: ${told(x)}, ${told(y)}`;
      link.setAttribute("aria-label", say("{reading}. Point {at} of {n}; arrow keys go to the next.", {reading: text, at: here + 1, n: points.length}));
      if (aloud) $("plot-reading").textContent = text;
    };
    go(0, false);
    link.addEventListener("focus", () => go(here, true));
    link.addEventListener("keydown", (event) => {
      const step = {ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1}[event.key];
      if (step) go(here + step, true);
      else if (event.key === "Home") go(0, true);
      else if (event.key === "End") go(points.length - 1, true);
      else return;
      event.preventDefault();
    });
    root.addEventListener("pointermove", (event) => {
      const box = root.getBoundingClientRect();
      const scale = (W + 84) / box.width;
      const [ex, ey] = [(event.clientX - box.left) * scale - 70, (event.clientY - box.top) * scale - 14];
      let best = -1, near = 900;
      points.forEach((p, at) => {
        const d = (px(p.x) - ex) ** 2 + (py(p.y) - ey) ** 2;
        if (d < near) { near = d; best = at; }
      });
      if (best >= 0) go(best, true);
    });
    plot.append(root);
  }

  // The table as CSV (RFC 4180). A text that a spreadsheet could take for a formula,
  // or whose apostrophe it would drop, is given one, as in the folio's own tables.
  function csv() {
    const text = (value) => {
      let out = value === null ? "" : String(value);
      const quoted = /[",\r\n]/.test(out) || out !== out.trim();
      if (/^(?:[\t\r\n']|[\s\u0085]*[=+\-@＝＋－＠])/.test(out) && typeof value === "string") out = "'" + out;
      return quoted ? `"${out.replaceAll('"', '""')}"` : out;
    };
    const heads = ["slug", "title", "maker", "category", "price", "currency"];
    for (const column of columns) {
      const unit = column.kind === "band" ? "score of 100" : column.unit ?? "1";
      if (column.kind === "band") heads.push(`${column.key} band`, `${column.key} borderline`);
      heads.push(`${column.key} (${unit})`, `${column.key} U (${unit})`);
    }
    const lines = [heads.map(text).join(",")];
    for (const shoe of shown) {
      const line = [shoe.slug, shoe.title, shoe.maker, categories.get(shoe.category) ?? shoe.category, shoe.amount, shoe.currency];
      columns.forEach((column, at) => {
        const said = cell(shoe, at);
        if (column.kind === "band") line.push(said ? said.text : null, said ? (said.borderline ? "yes" : "no") : null);
        line.push(number(shoe, at), spread(shoe, at));
      });
      lines.push(line.map(text).join(","));
    }
    return lines.join("\r\n") + "\r\n";
  }
  $("export").addEventListener("click", () => {
    const address = URL.createObjectURL(new Blob([csv()], {type: "text/csv"}));
    make("a", {href: address, download: "shoes.csv"}).click();
    setTimeout(() => URL.revokeObjectURL(address), 10000);
  });

  addEventListener("resize", () => { if (frozen) { thaw(); look(); draw(true); } });

  // Controls.
  const form = $("filters");
  const bandFields = [...form.querySelectorAll("select[data-column]")];
  if (data.currency) {                  // amounts in different currencies cannot be compared
    $("f-price").hidden = false;
    $("f-currency").textContent = `, ${data.currency}`;
  }
  for (const maker of [...data.makers].sort((a, b) => a.localeCompare(b))) {
    $("f-maker").append(make("option", {value: maker, dir: "auto"}, maker));
  }
  columns.forEach((column, at) => {
    for (const id of ["axis-x", "axis-y"]) $(id).append(make("option", {value: at}, column.label));
  });
  const numbers = (key) => [$(`f-${key}-from`), $(`f-${key}-to`)];
  function show() {
    $("f-text").value = state.text;
    $("f-category").value = state.category;
    $("f-maker").value = state.maker;
    for (const field of bandFields) field.value = state.bands[field.dataset.column] ?? "";
    for (const key of ["price", "mass"]) numbers(key).forEach((field, nth) => { if (field) field.value = state[key][nth]; });
    $("axis-x").value = state.x === "" ? 0 : state.x;
    $("axis-y").value = state.y === "" ? Math.min(1, columns.length - 1) : state.y;
    $("picture").open = state.picture;
    if (Object.keys(state.bands).length) $("more").open = true;
  }
  function take() {
    state.text = $("f-text").value.trim();
    state.category = $("f-category").value;
    state.maker = $("f-maker").value;
    state.bands = {};
    for (const field of bandFields) if (field.value !== "") state.bands[field.dataset.column] = Number(field.value);
    for (const key of ["price", "mass"]) state[key] = numbers(key).map((field) => (field ? field.value : ""));
    state.x = Number($("axis-x").value);
    state.y = Number($("axis-y").value);
    state.picture = $("picture").open;
  }
  function update() {
    look();
    const asked = write();
    $("export").disabled = !whole;
    if (!whole && asked) {
      // What is asked of all shoes is answered when all are there.
      $("shown").textContent = say("The other shoes are on their way …");
      if (from < 0) draw(true);
      return;
    }
    select();
    [...head.rows[0].cells].slice(1).forEach((cell, at) => {
      if (keys[at] === (state.sort || "title")) cell.setAttribute("aria-sort", state.down ? "descending" : "ascending");
      else cell.removeAttribute("aria-sort");
    });
    $("shown").textContent = many() === data.shoes ? say("All {n} shoes", {n: data.shoes}) : say("{some} of {n} shoes", {some: shown.length, n: data.shoes});
    draw(true);
    side();
    picture();
  }
  let later = 0;
  form.addEventListener("input", () => {
    clearTimeout(later);
    later = setTimeout(() => { take(); frame.scrollTop = 0; update(); }, 80);
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("reset", () => setTimeout(() => { take(); update(); }));
  for (const id of ["axis-x", "axis-y"]) $(id).addEventListener("change", () => { take(); picture(); write(); });
  $("picture").addEventListener("toggle", () => { if ($("picture").open !== state.picture) { take(); picture(); write(); } });
  addEventListener("hashchange", () => { read(); show(); update(); });

  read();
  show();
  form.hidden = false;
  $("picture").hidden = columns.length < 2;
  update();
  if (whole) return;
  globalThis.folioRows = (rows) => {
    have(rows);
    state.pick = state.pick.filter(bySlug);
    update();
    readOn();
  };
  const rest = make("script", {src: "rows.js"});
  rest.addEventListener("error", () => { $("shown").textContent = say("The other shoes could not be read. Load the page again."); });
  document.head.append(rest);
})();
