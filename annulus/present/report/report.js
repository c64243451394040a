// Wires the report: the section, sorting of tables, the time slider of a burn.
"use strict";

function sortTable(table, column, button) {
  const rows = [...table.tBodies[0].rows], downwards = button.getAttribute("data-order") !== "down";
  const key = (row) => row.cells[column].dataset.value ?? row.cells[column].textContent.trim().toLowerCase();
  const numbers = rows.every((row) => key(row) === "" || !Number.isNaN(Number(key(row))));
  const worth = (row) => (numbers ? (key(row) === "" ? -Infinity : Number(key(row))) : key(row));
  rows.sort((a, b) => (worth(a) < worth(b) ? -1 : worth(a) > worth(b) ? 1 : 0) * (downwards ? -1 : 1));
  table.tBodies[0].append(...rows);
  for (const other of table.querySelectorAll("th")) other.removeAttribute("aria-sort");
  for (const other of table.querySelectorAll("th button")) other.removeAttribute("data-order");
  button.setAttribute("data-order", downwards ? "down" : "up");
  button.closest("th").setAttribute("aria-sort", downwards ? "descending" : "ascending");
}

function makeSortable() {
  for (const table of document.querySelectorAll("table.sortable")) {
    [...table.tHead.rows[0].cells].forEach((cell, column) => {
      const button = document.createElement("button");
      button.type = "button"; button.textContent = cell.textContent; button.title = "sort by this column";
      cell.replaceChildren(button);
      button.addEventListener("click", () => sortTable(table, column, button));
    });
  }
}

function clock(seconds) {
  const minutes = Math.round(seconds / 60), hours = Math.floor(minutes / 60);
  return hours ? `${hours} h ${String(minutes % 60).padStart(2, "0")} min` : `${minutes} min`;
}

// The slider of a burn: 0 is the steady fire, then the moments of the burn.
function makeSlider(viewer, packed, steady) {
  const slider = byId("moment"), words = byId("moment-words");
  const body = new Body(packed.section), states = packed.moments.map(() => null);
  const [low, high] = packed.span;
  const show = () => {
    const n = Number(slider.value);
    for (const choice of document.querySelectorAll("input[name=shown]")) choice.disabled = n > 0 && choice.value !== "temperature";
    if (n === 0) {
      words.textContent = "steady fire";
      viewer.show(steady.body, steady.state, steady.maps);
    } else {
      states[n - 1] ??= new State(body, packed.moments[n - 1]);
      words.textContent = `${clock(packed.moments[n - 1].time)} after lighting`;
      if (viewer.shown !== "temperature") document.querySelector("input[name=shown][value=temperature]").click();
      viewer.show(body, states[n - 1], { low, high });
    }
    slider.setAttribute("aria-valuetext", words.textContent);
    viewer.draw();
  };
  slider.addEventListener("input", show);
  show();
}

function start() {
  document.documentElement.classList.remove("no-script");
  const packed = JSON.parse(byId("data").textContent);
  makeSortable();
  const body = new Body(packed.section), state = new State(body, packed.field);
  const maps = { stripes: new StripePicture(packed.stripes), gaps: packed.gaps ? new GapPicture(packed.gaps, body) : null };
  const viewer = new Viewer(body, state, { ...maps, keys: packed.keys });
  if (packed.burn) makeSlider(viewer, packed.burn, { body, state, maps });
}

start();
