// What a reader does with the section: choose the picture, move the part that is shown large, read a place.
// Goes in: a Body and a State (section.js). Comes out: pictures and words in the elements of viewer.html.
"use strict";

const GAS_SHOWN = 10, GAS_SHARE = 0.4; // of the gas zone, left of the bore: so much [mm], or that share of the section
const CLOSER = 1.5; // factor of one step
const MOST_SCALE = 80; // [px/mm]
const HEAT_WAYS = [["outwards", "inwards"], ["upwards", "downwards"]];

const byId = (id) => document.getElementById(id);

// Digits as a person reads them: thin spaces between thousands, no minus zero.
function figures(value, digits) {
  const text = Math.abs(value).toFixed(digits), minus = value < 0 && Number(text) !== 0 ? "−" : "";
  const [whole, rest] = text.split(".");
  return minus + whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") + (rest ? `.${rest}` : "");
}

class Viewer {
  constructor(body, state, { stripes = null, gaps = null, keys = {} }) {
    this.part = byId("part"); this.mark = byId("mark"); this.whole = byId("whole");
    this.shown = "temperature"; this.at = null;
    this.keys = keys; // words for what is shown, by its name
    this.show(body, state, { stripes, gaps });
    this._fit();
    this._listen();
    this.draw();
  }

  // Another body or state, the view and the reading kept where they are.
  show(body, state, { stripes = null, gaps = null, low = state.low, high = state.high }) {
    const other = !this.body || body.zMax !== this.body.zMax || body.rMax !== this.body.rMax;
    this.body = body; this.state = state; this.stripes = stripes; this.gaps = gaps; this.low = low; this.high = high;
    if (other) { this._fit(); }
  }

  _fit() {
    const ratio = window.devicePixelRatio || 1, body = this.body;
    const room = this.part.parentElement.clientWidth || 600;
    const tall = Math.round(Math.min(560, 1.1 * room)), wide = Math.round(Math.min(600, room));
    for (const canvas of [this.part, this.mark]) {
      canvas.width = wide * ratio; canvas.height = tall * ratio;
      canvas.style.width = `${wide}px`; canvas.style.height = `${tall}px`;
    }
    this.least = Math.min(wide / (body.rMax - body.rMin + this.gas), 14) * ratio;
    this.scale = this.least;
    const across = body.rMax - body.rMin + this.gas, up = body.zMax - body.zMin;
    this.wholeScale = Math.min(tall / up, 90 / across) * ratio;
    this.whole.width = across * this.wholeScale; this.whole.height = up * this.wholeScale;
    this.whole.style.width = `${this.whole.width / ratio}px`; this.whole.style.height = `${this.whole.height / ratio}px`;
    this.left = body.rMin - this.gas;
    this._moveTo(0.5 * (body.zMin + body.zMax), null);
  }

  get gas() { return Math.min(GAS_SHOWN, GAS_SHARE * (this.body.rMax - this.body.rMin)); }
  get view() { return { r: this.left, z: this.top, scale: this.scale }; }
  get tall() { return this.part.height / this.scale; }
  get wide() { return this.part.width / this.scale; }

  _moveTo(z, r) {
    const body = this.body, up = body.zMax - body.zMin;
    this.top = this.tall >= up ? body.zMax : Math.min(body.zMax, Math.max(body.zMin + this.tall, z + 0.5 * this.tall));
    const first = body.rMin - this.gas, span = body.rMax - first;
    this.left = this.wide >= span || r === null ? first
      : Math.min(body.rMax - this.wide, Math.max(first, r - 0.5 * this.wide));
  }

  _zoom(factor) {
    const r = this.at ? this.at.r : this.left + 0.5 * this.wide, z = this.at ? this.at.z : this.top - 0.5 * this.tall;
    this.scale = Math.min(MOST_SCALE, Math.max(this.least, this.scale * factor));
    this._moveTo(z, r);
    this.draw();
  }

  _listen() {
    this.mark.addEventListener("pointermove", (event) => {
      const box = this.mark.getBoundingClientRect(), ratio = this.mark.width / box.width;
      this.readAt(this.left + (event.clientX - box.left) * ratio / this.scale, this.top - (event.clientY - box.top) * ratio / this.scale);
    });
    this.mark.addEventListener("keydown", (event) => this._key(event));
    this.mark.addEventListener("focus", () => { if (!this.at) this.readAt(this.left + 0.5 * this.wide, this.top - 0.5 * this.tall); });
    const drag = (event) => {
      if (event.type === "pointermove" && !(event.buttons & 1)) return;
      const box = this.whole.getBoundingClientRect();
      const z = this.body.zMax - (event.clientY - box.top) / box.height * (this.body.zMax - this.body.zMin);
      this._moveTo(z, this.left + 0.5 * this.wide);
      this.draw();
    };
    this.whole.addEventListener("pointerdown", drag);
    this.whole.addEventListener("pointermove", drag);
    byId("closer").addEventListener("click", () => this._zoom(CLOSER));
    byId("farther").addEventListener("click", () => this._zoom(1 / CLOSER));
    for (const choice of document.querySelectorAll("input[name=shown]"))
      choice.addEventListener("change", () => { this.shown = choice.value; this.draw(); });
    window.addEventListener("resize", () => { this._fit(); this.draw(); });
  }

  _key(event) {
    const step = event.shiftKey ? 10 : event.ctrlKey ? 0.1 : 1;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
    if (moves[event.key] && this.at) {
      const body = this.body, [dr, dz] = moves[event.key];
      const r = Math.min(body.rMax, Math.max(body.rMin - this.gas, this.at.r + dr));
      const z = Math.min(body.zMax, Math.max(body.zMin, this.at.z + dz));
      if (z > this.top || z < this.top - this.tall || r < this.left || r > this.left + this.wide) { this._moveTo(z, r); this.draw(); }
      this.readAt(r, z);
    } else if (event.key === "PageUp" || event.key === "PageDown") {
      this._moveTo(this.top - 0.5 * this.tall + (event.key === "PageUp" ? 0.8 : -0.8) * this.tall, this.left + 0.5 * this.wide);
      this.draw();
    } else if (event.key === "+" || event.key === "=") this._zoom(CLOSER);
    else if (event.key === "-" || event.key === "−") this._zoom(1 / CLOSER);
    else return;
    event.preventDefault();
  }

  // Reads a place and says what is there.
  readAt(r, z) {
    const found = this.state.read(r, z);
    if (found) this.at = found;
    this._mark();
    if (found) this._tell(found);
  }

  _tell(found) {
    const turn = found.turn ? `, turn ${found.turn}` : "";
    const names = { bore: "water", filler: "filling", flue: "flue wall" };
    const rows = [
      ["place", `${figures(found.r, 2)} mm from the axis, ${figures(found.z, 2)} mm above the bottom`],
      ["part", (found.part === "void" ? found.name : names[found.part] || found.part) + turn],
      ["material", found.material],
      ["temperature", found.temperature === null || found.temperature === undefined ? "–" : `${figures(found.temperature, 2)} °C`],
    ];
    if (found.fluxR !== undefined) {
      const size = Math.hypot(found.fluxR, found.fluxZ);
      const words = [found.fluxR, found.fluxZ].map((part, n) => `${figures(Math.abs(part), 0)} ${HEAT_WAYS[n][part < 0 ? 1 : 0]}`);
      rows.push(["heat flux", `${figures(size, 0)} W/m²: ${words.join(", ")}`]);
    }
    if (this.gaps && found.piece !== undefined) rows.push(["gap", this.gaps.words(found.piece)]);
    const list = byId("reading");
    list.replaceChildren(...rows.flatMap(([term, words]) => {
      const dt = document.createElement("dt"), dd = document.createElement("dd");
      dt.textContent = term; dd.textContent = words;
      return [dt, dd];
    }));
  }

  draw() {
    const body = this.body, view = this.view;
    for (const [canvas, where, fine] of [
      [this.part, view, true],
      [this.whole, { r: body.rMin - this.gas, z: body.zMax, scale: this.wholeScale }, false],
    ]) {
      const context = canvas.getContext("2d");
      context.setTransform(1, 0, 0, 1, 0, 0);
      context.clearRect(0, 0, canvas.width, canvas.height);
      if (this.shown === "stripes" && this.stripes) this.stripes.paint(canvas, body, where);
      else if (this.shown === "gaps" && this.gaps) this.gaps.paint(canvas, body, where);
      else paintTemperature(canvas, this.state, where, this.low, this.high, fine);
      if (fine) { paintOutlines(canvas, body, where, this.shown === "stripes"); this._gas(context, where); }
    }
    this._frame(); this._mark(); this._key_of();
    if (this.at) { this.at = this.state.read(this.at.r, this.at.z) || this.at; this._tell(this.at); }
  }

  _gas(context, view) {
    const ratio = window.devicePixelRatio || 1, x = (this.body.rMin - 0.5 * this.gas - view.r) * view.scale;
    if (x < 0) return;
    context.save(); context.fillStyle = "#6a7178"; context.font = `${12 * ratio}px sans-serif`;
    context.translate(x, this.part.height / 2); context.rotate(-Math.PI / 2);
    context.textAlign = "center"; context.textBaseline = "middle"; context.fillText("hot gas rises →", 0, 0);
    context.restore();
  }

  _frame() {
    const context = this.whole.getContext("2d"), scale = this.wholeScale;
    context.strokeStyle = "#1d2328"; context.lineWidth = 2 * (window.devicePixelRatio || 1);
    const high = (this.body.zMax - this.top) * scale;
    context.strokeRect((this.left - this.body.rMin + this.gas) * scale + 1, Math.max(1, high + 1),
      Math.min(this.whole.width, this.wide * scale) - 2, Math.min(this.tall * scale, this.whole.height - high) - 2);
  }

  _mark() {
    const context = this.mark.getContext("2d");
    context.clearRect(0, 0, this.mark.width, this.mark.height);
    if (!this.at) return;
    const x = (this.at.r - this.left) * this.scale, y = (this.top - this.at.z) * this.scale;
    for (const [colour, width] of [["#ffffff", 3], ["#1d2328", 1]]) {
      context.strokeStyle = colour; context.lineWidth = width * (window.devicePixelRatio || 1); context.beginPath();
      for (const [a, b] of [[-1, -0.35], [0.35, 1]]) {
        const reach = 16 * (window.devicePixelRatio || 1);
        context.moveTo(x + a * reach, y); context.lineTo(x + b * reach, y);
        context.moveTo(x, y + a * reach); context.lineTo(x, y + b * reach);
      }
      context.stroke();
    }
  }

  // The scale of temperatures, or what colours mean.
  _key_of() {
    const words = this.keys[this.shown], { low, high } = this, shades = this.body.shades;
    byId("key").hidden = Boolean(words); byId("words-key").hidden = !words;
    if (words) { byId("words-key").innerHTML = words; return; }
    const bar = byId("scale"), context = bar.getContext("2d");
    for (let y = 0; y < bar.height; y++) {
      const n = 3 * Math.round((SHADES - 1) * (1 - y / (bar.height - 1)));
      context.fillStyle = `rgb(${shades[n]},${shades[n + 1]},${shades[n + 2]})`;
      context.fillRect(0, y, bar.width, 1);
    }
    const step = roundStep(Math.max(high - low, 1e-6), 6), marks = [];
    for (let n = Math.ceil(low / step); n * step <= high; n++) {
      const item = document.createElement("li"), share = (n * step - low) / (high - low);
      if (marks.length && share > 0.985) continue;
      item.textContent = figures(n * step, step < 1 ? 2 - Math.round(Math.log10(step * 10)) : 0); item.style.bottom = `${100 * share}%`;
      marks.push(item);
    }
    const named = document.createElement("li");
    named.textContent = "°C"; named.className = "unit";
    byId("marks").replaceChildren(...marks, named);
  }
}
