"use strict";
// What a reader may do with the page: point at values, and look at one area or some months.
// Nothing is added up or worked out here: only what is printed is shown or left away.
const partOf = (id) => (/\[(.+)\]$/.exec(id) || ["", ""])[1];
const narrow = window.matchMedia("(max-width: 40rem)");
const form = document.getElementById("look");
const said = document.getElementById("look-said");
const [area, from, to] = ["look-area", "look-from", "look-to"].map((id) => document.getElementById(id));
const rowsOf = (key) => [...document.querySelectorAll(`#table-${key}-rows tr`)];
const rowPart = (row) => {
  const marked = row.querySelector("[data-figure]");
  return marked ? partOf(marked.dataset.figure) : "";
};

// Every row of areas or months that is printed is a choice; what is hidden has no row.
const partsOf = (key) => new Map(rowsOf(key).map((row) => [rowPart(row), row]).filter(([part]) => part));
const areas = partsOf("areas");
const months = partsOf("months");

// Words stand in the page, in its language, with braces for what is put in.
const filled = (words, parts) => words.replace(/\{(\w+)\}/g, (_, name) => parts[name]);

function fill(select, parts) {
  for (const [part, row] of parts) select.add(new Option(row.cells[0].textContent, part));
  select.closest("p").hidden = parts.size === 0;
}

function isShown(part) {
  if (areas.has(part)) return !area.value || part === area.value;
  if (!/^\d{4}-\d{2}$/.test(part) || !(from.value || to.value)) return true;
  return (!from.value || part >= from.value) && (!to.value || part <= to.value);
}

function inWords(row) {
  const headings = [...row.closest("table").tHead.rows[0].cells].map((cell) => cell.textContent);
  const cells = [...row.cells].map((cell) => cell.textContent);
  const values = cells.slice(1).map((cell, at) => filled(form.dataset.labelled, { label: headings[at + 1], value: cell }));
  return `${cells[0]}. ${values.join("; ")}.`;
}

function show() {
  if (from.value && to.value && from.value > to.value) to.value = from.value;
  for (const row of document.querySelectorAll("main tbody tr")) row.hidden = !isShown(rowPart(row));
  for (const spot of document.querySelectorAll(".spot")) {
    spot.classList.toggle("veiled", !isShown(partOf(spot.dataset.of)));
  }
  const words = [];
  if (area.value) words.push(inWords(areas.get(area.value)));
  const shown = [...months.keys()].filter(isShown);
  if (from.value || to.value) {
    words.push(shown.length === 1 ? inWords(months.get(shown[0])) : filled(form.dataset.shown, { number: shown.length }));
    const fold = months.get(shown[0])?.closest("details");
    if (fold) fold.open = true;
  }
  if (words.length) words.push(form.dataset.other);
  said.textContent = words.join(" ");
}

function spotsOf(figure) {
  const items = [...figure.nextElementSibling.querySelectorAll("li")];
  const layer = document.createElement("div");
  layer.className = "spots";
  layer.setAttribute("role", "group");
  layer.setAttribute("aria-label", form.dataset.spots);
  const bubble = document.createElement("p");
  bubble.className = "bubble";
  bubble.hidden = true;
  const buttons = items.map((item, at) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "spot";
    button.tabIndex = at === 0 ? 0 : -1;
    button.dataset.of = item.dataset.of;
    button.setAttribute("aria-label", item.textContent);
    const tell = () => {
      bubble.textContent = item.textContent;
      bubble.hidden = false;
    };
    button.addEventListener("pointerenter", tell);
    button.addEventListener("focus", tell);
    for (const leave of ["pointerleave", "blur"]) button.addEventListener(leave, () => { bubble.hidden = true; });
    button.addEventListener("click", () => choose(partOf(item.dataset.of)));
    button.addEventListener("keydown", (event) => {
      if (event.key === "Escape") bubble.hidden = true;
      const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      const next = { Home: 0, End: buttons.length - 1 }[event.key] ?? at + step;
      if (!buttons[next]) return;
      event.preventDefault();
      button.tabIndex = -1;
      buttons[next].tabIndex = 0;
      buttons[next].focus();
    });
    return button;
  });
  const place = () => buttons.forEach((button, at) => {
    const sides = (narrow.matches ? items[at].dataset.narrow : items[at].dataset.wide).split(" ");
    ["left", "top", "width", "height"].forEach((side, n) => { button.style[side] = `${sides[n] * 100}%`; });
  });
  place();
  narrow.addEventListener("change", place);
  layer.append(...buttons);
  figure.querySelector(".picture").append(layer, bubble);
}

// A second press on what is chosen lets it go.
function choose(part) {
  if (areas.has(part)) area.value = area.value === part ? "" : part;
  else if (months.has(part)) from.value = to.value = from.value === part && to.value === part ? "" : part;
  else return;
  show();
}

fill(area, areas);
fill(from, months);
fill(to, months);
const charts = document.querySelectorAll("figure[data-chart]");
charts.forEach(spotsOf);
form.addEventListener("change", show);
form.addEventListener("reset", () => setTimeout(show));
form.addEventListener("submit", (event) => event.preventDefault());
document.getElementById("look-print").addEventListener("click", () => window.print());
// A page of which nothing can be chosen goes without.
form.hidden = !(areas.size || months.size || charts.length);

// Paper shows what is folded; afterwards the page is as it was.
let folded = [];
window.addEventListener("beforeprint", () => {
  folded = [...document.querySelectorAll("details:not(.values):not([open])")];
  for (const fold of folded) fold.open = true;
});
window.addEventListener("afterprint", () => {
  for (const fold of folded) fold.open = false;
});
