// The section on a page: drawn from the pieces themselves at any scale, and read at any place.
// Goes in: what embed.py packed. Comes out: pictures on canvases, and readings. Lengths in mm, temperatures in degC.
"use strict";

const SHADES = 256;
const HATCH_STEP = 7; // of hatches on the screen [px]

function unpack(text, Kind) {
  const raw = atob(text), bytes = new Uint8Array(raw.length);
  for (let n = 0; n < raw.length; n++) bytes[n] = raw.charCodeAt(n);
  return new Kind(bytes.buffer);
}

function unsquare(packed) {
  const whole = unpack(packed.data, Int16Array), out = new Float32Array(whole.length);
  for (let n = 0; n < whole.length; n++) out[n] = packed.most * whole[n] * Math.abs(whole[n]) / (32767 * 32767);
  return out;
}

function unstep(packed) {
  const whole = unpack(packed.data, Uint16Array), out = new Float32Array(whole.length);
  for (let n = 0; n < whole.length; n++) out[n] = packed.low + packed.step * whole[n];
  return out;
}

// Index of the interval of rising faces that holds a place; the nearest one beyond the ends.
function intervalOf(faces, place) {
  let low = 0, high = faces.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (faces[middle] <= place) low = middle; else high = middle;
  }
  return low;
}

class Body {
  constructor(packed) {
    this.r = packed.r; this.z = packed.z; this.regions = packed.regions; this.bands = packed.bands;
    this.nr = this.r.length - 1; this.nz = this.z.length - 1;
    this.region = unpack(packed.region, Uint16Array);
    const count = unpack(packed.count, Uint8Array);
    this.start = new Uint32Array(count.length + 1);
    for (let n = 0; n < count.length; n++) this.start[n + 1] = this.start[n] + count[n];
    this._placeMiddles(unpack(packed.at_r, Uint8Array), unpack(packed.at_z, Uint8Array));
    this._paintCells();
    this.shades = this._shades(unpack(packed.scale, Uint8Array));
    this.waterColour = packed.water_colour;
  }

  get size() { return this.region.length; }
  get rMin() { return this.r[0]; }
  get rMax() { return this.r[this.nr]; }
  get zMin() { return this.z[0]; }
  get zMax() { return this.z[this.nz]; }

  _placeMiddles(across, up) {
    this.middleR = new Float32Array(this.size); this.middleZ = new Float32Array(this.size);
    for (let cell = 0; cell < this.start.length - 1; cell++) {
      const i = Math.floor(cell / this.nz), j = cell % this.nz;
      for (let p = this.start[cell]; p < this.start[cell + 1]; p++) {
        this.middleR[p] = this.r[i] + across[p] / 255 * (this.r[i + 1] - this.r[i]);
        this.middleZ[p] = this.z[j] + up[p] / 255 * (this.z[j + 1] - this.z[j]);
      }
    }
  }

  // The region of every cell that one region fills, -1 where a circle passes: painted in order, as the section is.
  _paintCells() {
    this.only = new Int16Array(this.nr * this.nz).fill(-1);
    this.discs = [];
    this.regions.forEach((region, number) => {
      if (region.box) {
        const [r0, r1, z0, z1] = region.box, slack = 1e-4;
        for (let i = 0; i < this.nr; i++) {
          if (this.r[i] < r0 - slack || this.r[i + 1] > r1 + slack) continue;
          for (let j = 0; j < this.nz; j++)
            if (this.z[j] >= z0 - slack && this.z[j + 1] <= z1 + slack) this.only[i * this.nz + j] = number;
        }
        return;
      }
      const [r, z, radius] = region.disc;
      this.discs.push(number);
      for (let i = intervalOf(this.r, r - radius); i <= intervalOf(this.r, r + radius); i++)
        for (let j = intervalOf(this.z, z - radius); j <= intervalOf(this.z, z + radius); j++) {
          const far = Math.hypot(Math.max(r - this.r[i], this.r[i + 1] - r), Math.max(z - this.z[j], this.z[j + 1] - z));
          const near = Math.hypot(Math.max(this.r[i] - r, r - this.r[i + 1], 0), Math.max(this.z[j] - z, z - this.z[j + 1], 0));
          if (far <= radius) this.only[i * this.nz + j] = number;
          else if (near < radius) this.only[i * this.nz + j] = -1;
        }
    });
  }

  _shades(scale) {
    const known = scale.length / 3, out = new Uint8Array(3 * SHADES);
    for (let n = 0; n < SHADES; n++) {
      const at = n / (SHADES - 1) * (known - 1), k = Math.min(known - 2, Math.floor(at)), t = at - k;
      for (let c = 0; c < 3; c++) out[3 * n + c] = scale[3 * k + c] * (1 - t) + scale[3 * k + 3 + c] * t;
    }
    return out;
  }

  // Number of the region painted last at a place in the section.
  regionAt(r, z) {
    for (let n = this.regions.length - 1; n >= 0; n--) {
      const region = this.regions[n];
      if (region.box) {
        const [r0, r1, z0, z1] = region.box;
        if (r >= r0 && r <= r1 && z >= z0 && z <= z1) return n;
      } else if (Math.hypot(r - region.disc[0], z - region.disc[1]) <= region.disc[2]) return n;
    }
    return -1;
  }

  // Piece of a region in a cell; where its share was too small to be one, the piece whose middle is nearest; else -1.
  pieceAt(cell, region, r, z) {
    let found = -1, least = Infinity;
    for (let p = this.start[cell]; p < this.start[cell + 1]; p++) {
      if (this.region[p] === region) return p;
      const apart = Math.hypot(r - this.middleR[p], z - this.middleZ[p]);
      if (apart < least) { least = apart; found = p; }
    }
    return found;
  }

  // Cell and region of a place inside the section.
  locate(r, z) {
    const i = intervalOf(this.r, r), j = intervalOf(this.z, z), cell = i * this.nz + j;
    return { cell, region: this.only[cell] >= 0 ? this.only[cell] : this.regionAt(r, z) };
  }

  // Slopes of a column of temperatures, from neighbours of the same region.
  slopes(temperature) {
    const { nz, start, region, middleR, middleZ } = this;
    const alongR = new Float32Array(this.size), alongZ = new Float32Array(this.size);
    const mate = (cell, which) => {
      for (let p = start[cell]; p < start[cell + 1]; p++) if (region[p] === which) return p;
      return -1;
    };
    for (let i = 0; i < this.nr; i++) for (let j = 0; j < nz; j++) {
      const cell = i * nz + j;
      for (let p = start[cell]; p < start[cell + 1]; p++) {
        for (const [out, middle, lower, upper] of [
          [alongR, middleR, i > 0 ? cell - nz : -1, i < this.nr - 1 ? cell + nz : -1],
          [alongZ, middleZ, j > 0 ? cell - 1 : -1, j < nz - 1 ? cell + 1 : -1],
        ]) {
          const a = lower < 0 ? -1 : mate(lower, region[p]), b = upper < 0 ? -1 : mate(upper, region[p]);
          const from = a < 0 ? p : a, to = b < 0 ? p : b;
          if (from !== to) out[p] = (temperature[to] - temperature[from]) / (middle[to] - middle[from]);
        }
      }
    }
    return [alongR, alongZ];
  }
}

// One state of a body: temperatures, and what goes with them.
class State {
  constructor(body, packed) {
    this.body = body;
    this.temperature = unstep(packed.temperature);
    [this.slopeR, this.slopeZ] = packed.slope_r
      ? [unsquare(packed.slope_r), unsquare(packed.slope_z)] : body.slopes(this.temperature);
    this.fluxR = packed.flux_r ? unsquare(packed.flux_r) : null;
    this.fluxZ = packed.flux_z ? unsquare(packed.flux_z) : null;
    this.gas = packed.gas; this.water = packed.water;
    this.low = Infinity; this.high = -Infinity;
    for (const T of this.temperature) { this.low = Math.min(this.low, T); this.high = Math.max(this.high, T); }
  }

  temperatureOf(piece, r, z) {
    return this.temperature[piece] + this.slopeR[piece] * (r - this.body.middleR[piece])
      + this.slopeZ[piece] * (z - this.body.middleZ[piece]);
  }

  // What is at a place: part, material, turn, temperature, flux; null outside the picture.
  read(r, z) {
    const body = this.body;
    if (z < body.zMin || z > body.zMax || r > body.rMax || r < 0) return null;
    if (r < body.rMin) {
      const band = Math.min(intervalOf(body.bands, z), body.bands.length - 2);
      return { r, z, part: "gas", material: "flue gas", turn: null, temperature: this.gas ? this.gas[band] : null };
    }
    const { cell, region } = body.locate(r, z), about = body.regions[region];
    const found = { r, z, part: about.role, name: about.name, material: about.material, turn: about.turn };
    if (about.role === "bore") {
      found.temperature = this.water ? this.water[about.turn - 1] : null;
      return found;
    }
    const piece = body.pieceAt(cell, region, r, z);
    found.piece = piece;
    found.temperature = this.temperatureOf(piece, r, z);
    if (this.fluxR) { found.fluxR = this.fluxR[piece]; found.fluxZ = this.fluxZ[piece]; }
    return found;
  }
}

// Round steps of about `count` in a span.
function roundStep(span, count) {
  const wished = span / count, power = 10 ** Math.floor(Math.log10(wished));
  return power * [1, 2, 5, 10].find((n) => n * power >= wished * 0.999);
}

// Visits the dots of a canvas that show conducting parts: `view` has r and z [mm] of the upper left corner and px per mm.
function eachDot(canvas, body, view, visit) {
  const { width, height } = canvas, columns = new Int32Array(width), rs = new Float32Array(width);
  for (let x = 0; x < width; x++) {
    rs[x] = view.r + (x + 0.5) / view.scale;
    columns[x] = rs[x] < body.rMin || rs[x] > body.rMax ? -1 : intervalOf(body.r, rs[x]);
  }
  for (let y = 0; y < height; y++) {
    const z = view.z - (y + 0.5) / view.scale, j = intervalOf(body.z, z);
    if (z < body.zMin || z > body.zMax) continue;
    for (let x = 0; x < width; x++) {
      if (columns[x] < 0) continue;
      const cell = columns[x] * body.nz + j;
      const region = body.only[cell] >= 0 ? body.only[cell] : body.regionAt(rs[x], z);
      if (body.regions[region].role === "bore") continue;
      const piece = body.pieceAt(cell, region, rs[x], z);
      if (piece >= 0) visit(y * width + x, piece, rs[x], z);
    }
  }
}

function paintTemperature(canvas, state, view, low, high, withLines = true) {
  const { width, height } = canvas, context = canvas.getContext("2d"), shades = state.body.shades;
  const image = context.createImageData(width, height), dots = image.data;
  const step = roundStep(Math.max(high - low, 1e-6), 12), level = new Int32Array(width * height);
  const NONE = -(2 ** 30), toShade = (SHADES - 1) / Math.max(high - low, 1e-6);
  level.fill(NONE);
  eachDot(canvas, state.body, view, (at, piece, r, z) => {
    const T = state.temperatureOf(piece, r, z);
    const shade = 3 * Math.max(0, Math.min(SHADES - 1, Math.round((T - low) * toShade)));
    level[at] = Math.floor(T / step);
    dots[4 * at] = shades[shade]; dots[4 * at + 1] = shades[shade + 1];
    dots[4 * at + 2] = shades[shade + 2]; dots[4 * at + 3] = 255;
  });
  for (let y = 0; withLines && y + 1 < height; y++) for (let x = 0; x + 1 < width; x++) { // isotherms
    const at = y * width + x, here = level[at];
    if (here === NONE) continue;
    for (const other of [level[at + 1], level[at + width]]) {
      if (other === NONE || Math.abs(other - here) !== 1) continue;
      for (let c = 0; c < 3; c++) dots[4 * at + c] = 0.25 * dots[4 * at + c] + 0.75 * 255;
    }
  }
  context.putImageData(image, 0, 0);
}

// From mm to the dots of a canvas; z runs up.
function inMillimetres(context, view) {
  context.setTransform(view.scale, 0, 0, -view.scale, -view.r * view.scale, view.z * view.scale);
}

function pathOf(region) {
  const path = new Path2D();
  if (region.box) path.rect(region.box[0], region.box[2], region.box[1] - region.box[0], region.box[3] - region.box[2]);
  else path.arc(...region.disc, 0, 2 * Math.PI);
  return path;
}

function paintOutlines(canvas, body, view, fillTubes) {
  const context = canvas.getContext("2d"), width = (window.devicePixelRatio || 1) * 0.8 / view.scale;
  context.save(); inMillimetres(context, view);
  context.lineWidth = width; context.strokeStyle = "#1d2328";
  for (const region of body.regions) {
    const path = pathOf(region);
    if (region.role === "bore" || (fillTubes && region.role === "tube")) { context.fillStyle = region.colour; context.fill(path); }
    context.setLineDash(region.role === "void" ? [4 * width, 3 * width] : []);
    if (region.role !== "filler") context.stroke(path);
  }
  context.restore();
  for (const region of body.regions) { // numbers of turns, where they fit
    if (region.role !== "bore" || region.disc[2] * view.scale < 9) continue;
    context.font = `${Math.min(22, region.disc[2] * view.scale * 0.8)}px sans-serif`;
    context.textAlign = "center"; context.textBaseline = "middle"; context.fillStyle = "#1d2328";
    context.fillText(region.turn, (region.disc[0] - view.r) * view.scale, (view.z - region.disc[1]) * view.scale);
  }
}

function hatchPattern(context, marks, ink, scale) {
  const size = Math.round(HATCH_STEP * (window.devicePixelRatio || 1)), tile = document.createElement("canvas");
  tile.width = tile.height = size;
  const pen = tile.getContext("2d");
  pen.strokeStyle = ink; pen.lineWidth = Math.max(1, size / 9); pen.beginPath();
  for (const shift of marks === "." ? [] : [-size, 0, size]) {
    if (marks !== "\\") { pen.moveTo(shift, size); pen.lineTo(shift + size, 0); }
    if (marks !== "/") { pen.moveTo(shift, 0); pen.lineTo(shift + size, size); }
  }
  pen.stroke();
  if (marks === ".") { pen.fillStyle = ink; pen.arc(size / 2, size / 2, size / 6, 0, 2 * Math.PI); pen.fill(); }
  const pattern = context.createPattern(tile, "repeat");
  pattern.setTransform(new DOMMatrix([1 / scale, 0, 0, -1 / scale, 0, 0]));
  return pattern;
}

class StripePicture {
  constructor(packed) {
    this.kinds = packed.kinds; this.watts = packed.watts; this.sight = packed.sight; this.sightColour = packed.sight_colour;
    this.bands = packed.bands.map((band) => {
      const path = new Path2D(); let low = Infinity, high = -Infinity;
      for (let n = 1; n < band.length; n += 2) {
        if (n === 1) path.moveTo(band[n] / 100, band[n + 1] / 100); else path.lineTo(band[n] / 100, band[n + 1] / 100);
        low = Math.min(low, band[n + 1] / 100); high = Math.max(high, band[n + 1] / 100);
      }
      path.closePath();
      return { kind: this.kinds[band[0]], path, low, high };
    });
  }

  paint(canvas, body, view) {
    const context = canvas.getContext("2d"), hatches = new Map();
    context.save(); inMillimetres(context, view);
    for (const region of body.regions) {
      if (region.role === "tube" || region.role === "bore") continue;
      context.fillStyle = region.colour; context.fill(pathOf(region));
    }
    const bottom = view.z - canvas.height / view.scale;
    for (const band of this.bands) {
      if (band.high < bottom || band.low > view.z) continue;
      context.fillStyle = band.kind.face; context.fill(band.path);
      if (band.kind.hatch) {
        const key = band.kind.hatch[0] + band.kind.ink;
        if (!hatches.has(key)) hatches.set(key, hatchPattern(context, band.kind.hatch[0], band.kind.ink, view.scale));
        context.fillStyle = hatches.get(key); context.fill(band.path);
      }
      context.strokeStyle = band.kind.line; context.lineWidth = 0.4 / view.scale; context.stroke(band.path);
    }
    this._paintSight(context, view, bottom);
    context.restore();
  }

  // Radiation across air: dashed on a white edge, a head where a line ends; lines with less than full watts are thin.
  _paintSight(context, view, bottom) {
    for (const [startR, startZ, endR, endZ, full] of this.sight) {
      const r = startR / 100, z = startZ / 100, dr = endR / 100 - r, dz = endZ / 100 - z, length = Math.hypot(dr, dz);
      if (Math.max(z, z + dz) < bottom || Math.min(z, z + dz) > view.z) continue;
      const width = (full ? 1.8 : 1) / view.scale, head = Math.min((full ? 8 : 6) / view.scale, length / 2);
      const way = new Path2D(); way.moveTo(r, z); way.lineTo(r + dr, z + dz);
      context.strokeStyle = "white"; context.lineWidth = 2.2 * width; context.stroke(way);
      context.strokeStyle = context.fillStyle = this.sightColour; context.lineWidth = width;
      context.setLineDash([3.2 * width, 1.6 * width]); context.stroke(way); context.setLineDash([]);
      const alongR = dr / length * head, alongZ = dz / length * head;
      context.beginPath(); context.moveTo(r + dr, z + dz);
      context.lineTo(r + dr - alongR - 0.42 * alongZ, z + dz - alongZ + 0.42 * alongR);
      context.lineTo(r + dr - alongR + 0.42 * alongZ, z + dz - alongZ - 0.42 * alongR);
      context.fill();
    }
  }
}

// Where a gap costs most: classes of cost, the same as in the printed picture, smooth in a measure that keeps small ones apart.
class GapPicture {
  constructor(packed, body) {
    this.cost = unsquare(packed.cost); this.clear = new Set(packed.clear); this.body = body;
    const least = packed.bounds[0];
    this.level = this.cost.map((cost) => Math.asinh(cost / least));
    [this.slopeR, this.slopeZ] = body.slopes(this.level);
    this.bounds = [-least, ...packed.bounds].map((bound) => Math.asinh(bound / least));
    this.colours = packed.colours.map((hex) => [1, 3, 5].map((n) => parseInt(hex.slice(n, n + 2), 16)));
  }

  paint(canvas, body, view) {
    const context = canvas.getContext("2d"), image = context.createImageData(canvas.width, canvas.height), dots = image.data;
    eachDot(canvas, body, view, (at, piece, r, z) => {
      if (this.clear.has(body.region[piece])) return;
      const level = this.level[piece] + this.slopeR[piece] * (r - body.middleR[piece]) + this.slopeZ[piece] * (z - body.middleZ[piece]);
      let kind = 0;
      for (const bound of this.bounds) kind += level >= bound;
      const colour = this.colours[kind];
      dots[4 * at] = colour[0]; dots[4 * at + 1] = colour[1]; dots[4 * at + 2] = colour[2]; dots[4 * at + 3] = 255;
    });
    context.putImageData(image, 0, 0);
  }

  words(piece) {
    if (this.clear.has(this.body.region[piece])) return "still air already";
    const milliwatts = 1000 * this.cost[piece];
    return `a void of 1 mm² here ${milliwatts < 0 ? "brings" : "costs"} the water ${Number(Math.abs(milliwatts).toPrecision(2))} mW`;
  }
}
