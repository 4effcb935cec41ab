// Shows the page anew when files changed, where it was scrolled to, and what is
// wrong over it until it is mended.
//
// A page without scripts of its own is taken in as a whole and its body put in the
// place of the old one: that is quicker than loading it again and nothing flickers.
// Any other page is loaded again.
"use strict";
(() => {
  const place = `preview ${location.pathname}`;
  // Which making this page and its style are of: one that came before the page
  // listened is not missed.
  let {made, style} = document.currentScript.dataset;
  // Where to scroll to once the page is there; a change that comes before that
  // must not take the half-loaded page's place for it.
  let scroll = sessionStorage.getItem(place);
  if (scroll !== null) {
    sessionStorage.removeItem(place);
    history.scrollRestoration = "manual";
    addEventListener("load", () => { scrollTo(0, Number(scroll)); scroll = null; });
  }
  // Where it was scrolled to before it became too short for that: half a file was
  // read, or a page could not be made.
  let kept = null;
  function show(problems) {
    document.getElementById("preview-problems")?.remove();
    if (problems.length === 0) return;
    const box = document.createElement("section");
    box.id = "preview-problems";
    box.setAttribute("role", "alert");
    const title = document.createElement("h2");
    title.textContent = problems.length === 1 ? "One problem" : `${problems.length} problems`;
    box.append(title);
    for (const problem of problems) {
      const where = [problem.file, problem.line, problem.column].filter((part) => part !== null && part !== undefined).join(":");
      for (const [name, text] of [["place", where], ["what", problem.message], ["hint", problem.hint]]) {
        if (!text) continue;
        const line = document.createElement("p");
        line.className = name;
        line.textContent = text;
        box.append(line);
      }
    }
    document.body.append(box);
  }
  // A page that could not be made says why in its body.
  function ofPage() {
    const here = document.body.dataset.problems;
    if (here) show(JSON.parse(here));
    return Boolean(here);
  }
  function reload() {
    sessionStorage.setItem(place, scroll ?? String(kept ?? scrollY));
    location.reload();
  }
  const own = (one) => new URL(one.getAttribute("src") ?? one.getAttribute("href"), location.href).pathname.startsWith("/-/");
  const scripted = (page) => [...page.querySelectorAll("script[src]")].some((script) => !own(script));
  function restyle() {
    for (const old of document.querySelectorAll("link[rel=stylesheet]")) {
      if (own(old)) continue;
      const fresh = old.cloneNode();
      fresh.href = `${old.getAttribute("href").split("?")[0]}?${style}`;
      fresh.addEventListener("load", () => old.remove());
      old.after(fresh);
    }
  }
  async function renew(news) {
    if (document.readyState !== "complete" || scripted(document)) return reload();
    made = news.made;
    const response = await fetch(location.href);
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    // A later change is on its way already.
    if (made !== news.made) return undefined;
    if (response.redirected || scripted(page)) return reload();
    document.title = page.title;
    const top = kept ?? scrollY;
    document.body.replaceWith(document.adoptNode(page.body));
    scrollTo(0, top);
    kept = scrollY < top - 1 ? top : null;
    if (style !== news.style) {
      ({style} = news);
      restyle();
    }
    return ofPage();
  }
  ofPage();
  function tell(news) {
    if (news.problems.length > 0) show(news.problems);
    else if (!ofPage()) show([]);
  }
  const events = new EventSource("/-/events");
  events.onmessage = (event) => {
    const news = JSON.parse(event.data);
    if (made === news.made) tell(news);
    // Over a new folio too there may be problems: those of the lab's own programs.
    else renew(news).then(() => { if (made === news.made) tell(news); }).catch(reload);
  };
})();
