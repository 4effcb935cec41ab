// Reloads the page where it was scrolled to when files changed, and shows what is
// wrong over it until it is mended.
"use strict";
(() => {
  const place = `preview ${location.pathname}`;
  // Which making this page is of: one that came before the page listened is not missed.
  const {made} = document.currentScript.dataset;
  // Where to scroll to once the page is there; a change that comes before that
  // must not take the half-loaded page's place for it.
  let scroll = sessionStorage.getItem(place);
  if (scroll !== null) {
    sessionStorage.removeItem(place);
    history.scrollRestoration = "manual";
    addEventListener("load", () => { scrollTo(0, Number(scroll)); scroll = null; });
  }
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
  const here = document.body.dataset.problems;
  if (here) show(JSON.parse(here));
  const events = new EventSource("/-/events");
  events.onmessage = (event) => {
    const news = JSON.parse(event.data);
    if (made !== news.made && news.problems.length === 0) {
      sessionStorage.setItem(place, scroll ?? String(scrollY));
      location.reload();
      return;
    }
    if (news.problems.length > 0 || !here) show(news.problems);
  };
})();
