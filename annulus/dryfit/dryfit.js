// The dry fit: knobs are turned, the section follows on a coarse grid at once and is refined when they rest.
"use strict";

const REST = 700; // after the last turn of a knob, before refining [ms]

class Fitting {
  constructor(packed) {
    this.knobs = packed.knobs; this.values = {}; this.viewer = null;
    this.asking = false; this.waiting = false; this.timer = null; this.wave = 0;
    byId("title").textContent = packed.title; byId("invented").hidden = !packed.invented;
    this._build();
    byId("back").addEventListener("click", () => { this.values = {}; this._build(); this.turn(); });
    byId("keep").addEventListener("submit", (event) => { event.preventDefault(); this.keep(); });
    this.turn();
  }

  _build() {
    byId("knobs").replaceChildren(...this.knobs.map((knob) => {
      const row = document.createElement("div"), label = document.createElement("label"), told = document.createElement("output");
      const turner = document.createElement(knob.choices.length ? "select" : "input");
      row.className = "knob"; turner.id = `knob-${knob.key.replace(".", "-")}`;
      label.htmlFor = turner.id; label.textContent = knob.words;
      if (knob.choices.length) {
        turner.append(...knob.choices.map((words) => new Option(words, words, false, words === knob.value)));
      } else {
        Object.assign(turner, { type: "range", min: knob.low, max: knob.high, step: "any" });
        turner.value = knob.value;
      }
      const unit = knob.unit.replace("degC", "°C");
      const tell = (value) => { told.textContent = knob.choices.length ? "" : `${Number(value.toFixed(3))} ${unit}`; turner.setAttribute("aria-valuetext", told.textContent); };
      tell(Number(knob.value));
      const moved = (value) => { this.values[knob.key] = value; if (!knob.choices.length) tell(value); this.turn(); };
      turner.addEventListener("input", () => moved(knob.choices.length ? turner.value
        : Math.min(knob.high, Math.max(knob.low, Number((Math.round(Number(turner.value) / knob.step) * knob.step).toFixed(6))))));
      if (!knob.choices.length) turner.addEventListener("keydown", (event) => { // one step of the knob for one key
        const steps = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
        if (!steps) return;
        event.preventDefault();
        turner.value = Number(turner.value) + steps * knob.step;
        turner.dispatchEvent(new Event("input"));
      });
      row.append(label, told, turner);
      return row;
    }));
  }

  async _ask(path, content) {
    const answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(content) });
    return { status: answer.status, ...(await answer.json()) };
  }

  // A knob was turned: ask at once, or as soon as the answer under way has come; the newest values count.
  async turn() {
    clearTimeout(this.timer);
    this.wave += 1;
    if (this.asking) { this.waiting = true; return; }
    this.asking = true;
    do {
      this.waiting = false;
      await this._answer("/try", this.wave);
    } while (this.waiting);
    this.asking = false;
    this.timer = setTimeout(() => this._answer("/refine", this.wave), REST);
  }

  async _answer(path, wave) {
    const begun = performance.now();
    let told;
    try {
      told = await this._ask(path, { values: this.values });
    } catch (fault) {
      this._say("no answer: is the command still running?", true);
      return;
    }
    if (told.superseded || wave !== this.wave) return;
    if (told.fault) { this._say(told.fault, true); return; }
    this._show(told);
    const took = (performance.now() - begun) / 1000;
    document.body.dataset.took = took.toFixed(3);
    document.body.dataset.wave = wave; document.body.dataset.refined = told.refined;
    this._say(told.refined ? `refined in ${took.toFixed(1)} s: as annulus steady computes it, with error bars`
      : `coarse grid, ${took.toFixed(2)} s; refining when the knobs rest`, false);
  }

  _show(told) {
    const body = new Body(told.section), state = new State(body, told.field), stripes = new StripePicture(told.stripes);
    if (this.viewer) { this.viewer.keys = told.keys; this.viewer.show(body, state, { stripes }); this.viewer.draw(); }
    else this.viewer = new Viewer(body, state, { stripes, keys: told.keys });
    byId("lead").innerHTML = told.lead; byId("cautions").innerHTML = told.cautions;
    byId("source").textContent = told.source;
    document.body.dataset.heat = JSON.stringify(told.heat_to_water_W);
    const most = Math.max(...told.ledger.map((flow) => Math.abs(flow.heat)), 1e-9);
    byId("ledger").replaceChildren(...told.ledger.flatMap((flow) => {
      const words = document.createElement("span"), bar = document.createElement("i"), heat = document.createElement("b");
      words.textContent = flow.heat < 0 ? `from ${flow.words}` : flow.words;
      bar.style.width = `${100 * Math.abs(flow.heat) / most}%`; bar.style.backgroundColor = flow.colour;
      heat.textContent = flow.told.replace("-", "−");
      return [words, bar, heat];
    }));
  }

  _say(words, isFault) {
    const place = byId("state");
    place.textContent = words; place.className = isFault ? "fault" : "";
  }

  async keep() {
    const told = await this._ask("/save", { values: this.values, name: byId("name").value });
    byId("kept").textContent = told.fault || `saved ${told.saved}`;
  }
}

new Fitting(JSON.parse(byId("data").textContent));
