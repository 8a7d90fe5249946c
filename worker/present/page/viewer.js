/* The model of one setup: which bodies are shown and how, the section, the work zero, the places of findings. */
const NEXT = { solid: "glass", glass: "off", off: "solid" };
const WORD = { solid: "solid", glass: "see-through", off: "off" };
const LAYERS = ["as_is", "to_be", "part", "removal", "workholding"];
const DARK_LINE = [0.1, 0.13, 0.17];
const SVG = "http://www.w3.org/2000/svg";
const channel = (colour, k) => parseInt(colour.slice(1 + 2 * k, 3 + 2 * k), 16) / 255;
const rgb = (colour) => [channel(colour, 0), channel(colour, 1), channel(colour, 2)];

class Viewer {
  constructor(root, scene, buffer) {
    this.root = root;
    this.scene = scene;
    this.buffer = buffer;
    this.canvas = root.querySelector("canvas");
    this.overlay = root.querySelector(".overlay");
    this.painter = new Painter(this.canvas);
    this.camera = new Camera();
    this.drawn = new Map();
    this.layers = { as_is: "off", to_be: "solid", part: "off", removal: "off", workholding: "glass" };
    this.section = { axis: -1, share: 0.5 };
    this.step = null;
    this.features = [];
    this.finding = -1;
    this.colours = Object.fromEntries(Object.entries(scene.colours).map(([name, colour]) => [name, rgb(colour)]));
    steer(this.canvas, this.camera, () => this.redraw());
    new ResizeObserver(() => this.redraw()).observe(this.canvas);
    this.chooseSetup(scene.setups[0].id);
  }

  get setup() {
    return this.scene.setups.find((s) => s.id === this.setupId);
  }

  /** The drawable body of a mesh number, made when first asked for. */
  body(index) {
    if (!this.drawn.has(index)) {
      const made = prepare(readMesh(this.buffer, this.scene.meshes[index]), this.scene.grid.origin, this.scene.grid.step);
      const buffers = this.painter.upload(made.at, made.normals, undefined, made.lines);
      this.drawn.set(index, { ...made, buffers });
    }
    return this.drawn.get(index);
  }

  bodies(kind) {
    if (kind === "part") return this.scene.part === null ? [] : [{ mesh: this.scene.part, name: "part" }];
    const found = this.setup.bodies.filter((b) => b.kind === kind);
    return kind === "removal" && this.step !== null ? found.filter((b) => b.step === this.step) : found;
  }

  chooseSetup(id) {
    if (this.setupId === id) return;
    this.setupId = id;
    this.step = null;
    this.frame = frameOf(this.setup.origin);
    this.stock = this.box(["as_is", "to_be"]);
    this.home();
    this.root.dataset.setup = id;
  }

  /** The box of some bodies in the setup's axes. */
  box(kinds) {
    const box = { min: [Infinity, Infinity, Infinity], max: [-Infinity, -Infinity, -Infinity] };
    for (const item of kinds.flatMap((kind) => this.bodies(kind))) {
      const b = this.body(item.mesh).box;
      for (let corner = 0; corner < 8; corner++) {
        const p = toFrame(this.frame, [0, 1, 2].map((k) => (corner & (1 << k) ? b.max[k] : b.min[k])));
        for (let k = 0; k < 3; k++) {
          box.min[k] = Math.min(box.min[k], p[k]);
          box.max[k] = Math.max(box.max[k], p[k]);
        }
      }
    }
    return box;
  }

  home() {
    const size_ = size(sub(this.stock.max, this.stock.min)) / 2 || 50;
    const middle = times(add(this.stock.min, this.stock.max), 0.5);
    this.camera.fit(this.frame, fromFrame(this.frame, middle), size_ * 1.22);
    this.redraw();
  }

  look(azimuth, elevation) {
    this.glide({ azimuth: (azimuth * Math.PI) / 180, elevation: (elevation * Math.PI) / 180 });
  }

  /** Move the camera there; at once for readers who want no motion. */
  glide(goal) {
    const camera = this.camera;
    const start = { azimuth: camera.azimuth, elevation: camera.elevation, radius: camera.radius, target: camera.target };
    const end = { ...start, ...goal };
    const turns = Math.round((start.azimuth - end.azimuth) / (2 * Math.PI));
    end.azimuth += turns * 2 * Math.PI;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const begun = performance.now();
    const ticket = (this.ticket = {});
    const frame = (now) => {
      if (this.ticket !== ticket) return;
      const t = still ? 1 : clamp((now - begun) / 320, 0, 1);
      const ease = t * t * (3 - 2 * t);
      for (const key of ["azimuth", "elevation", "radius"]) camera[key] = mix(start[key], end[key], ease);
      camera.target = start.target.map((c, k) => mix(c, end.target[k], ease));
      this.paint();
      if (t < 1) requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }

  /** Show features on the part, and a place when there is one. */
  point(features, at, finding = -1) {
    this.features = features;
    this.finding = finding;
    if (this.marked) this.painter.release(this.marked);
    this.marked = this.highlight(features);
    const place = at || this.placeOf(features);
    if (place) this.glide({ target: place, radius: Math.min(this.camera.radius, this.camera.size * 0.6) });
    else this.redraw();
  }

  highlight(features) {
    const faces = features.flatMap((id) => this.scene.features[id]?.faces ?? []);
    if (this.scene.part === null || faces.length === 0) return null;
    const { at, normals } = ofFaces(this.body(this.scene.part), faces);
    return at.length ? this.painter.upload(at, normals) : null;
  }

  placeOf(features) {
    const known = features.map((id) => this.scene.features[id]).filter(Boolean);
    return known.length ? known[0].at : null;
  }

  redraw() {
    this.ticket = null;
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.paint();
    });
  }

  plane() {
    const { axis, share } = this.section;
    if (axis < 0) return null;
    const normal = [this.frame.x, this.frame.y, this.frame.z][axis];
    const local = mix(this.stock.min[axis], this.stock.max[axis], share);
    const away = axis === 1 ? times(normal, -1) : normal;
    const point = add(this.frame.o, normal, local);
    this.sectionAt = local;
    return { normal: away, offset: dot(point, away) };
  }

  paint() {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const [width, height] = [this.canvas.clientWidth, this.canvas.clientHeight];
    if (!width || !height) return;
    this.canvas.width = Math.round(width * ratio);
    this.canvas.height = Math.round(height * ratio);
    const view = this.camera.view(width, height);
    const ink = { solid: DARK_LINE, glass: rgb(getComputedStyle(this.root).getPropertyValue("--ink").trim() || "#000000") };
    this.painter.begin(view, this.plane());
    for (const how of ["solid", "mark", "glass"]) this.pass(how, ink);
    this.paintOverlay(view, width, height);
    this.root.dataset.azimuth = this.camera.azimuth.toFixed(4);
    this.root.dataset.elevation = this.camera.elevation.toFixed(4);
    this.root.dataset.frames = String(Number(this.root.dataset.frames ?? 0) + 1);
  }

  pass(how, ink) {
    if (how === "mark") {
      if (!this.marked) return;
      this.painter.use(this.painter.surface, this.colours.highlight, { lift: 0.0006 });
      this.painter.triangles(this.marked);
      return;
    }
    for (const layer of LAYERS.filter((l) => this.layers[l] === how)) {
      for (const item of this.bodies(layer)) {
        const { buffers } = this.body(item.mesh);
        const colour = this.colours[layer === "as_is" || layer === "to_be" ? "stock" : layer];
        const stripes = layer === "removal" ? this.painter.stripe : 0;
        if (how === "solid") this.painter.solid(buffers, colour, ink.solid, { stripes });
        else this.painter.glass(buffers, colour, ink.glass, 0.22);
      }
    }
  }

  paintOverlay(view, width, height) {
    const on = (p) => project(view, width, height, p);
    this.overlay.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.overlay.replaceChildren(...this.zero(on), ...this.pins(on));
  }

  /** The work zero with its axes. */
  zero(on) {
    const origin = on(this.frame.o);
    const length = this.camera.radius * 0.26;
    const parts = [];
    for (const [name, axis] of [["X", this.frame.x], ["Y", this.frame.y], ["Z", this.frame.z]]) {
      const end = on(add(this.frame.o, axis, length));
      parts.push(shape("line", { x1: origin.x, y1: origin.y, x2: end.x, y2: end.y, class: "axis" }));
      if (Math.hypot(end.x - origin.x, end.y - origin.y) > 9) {
        parts.push(shape("text", { x: mix(origin.x, end.x, 1.14), y: mix(origin.y, end.y, 1.14) + 4, class: "axis-name" }, name));
      }
    }
    parts.push(shape("circle", { cx: origin.x, cy: origin.y, r: 5, class: "zero" }));
    parts.push(shape("path", { d: quarters(origin.x, origin.y, 5), class: "zero-fill" }));
    return parts;
  }

  pins(on) {
    return this.scene.findings
      .filter((f) => f.at && (f.setup === this.setupId || f.index === this.finding))
      .sort((a, b) => (a.index === this.finding) - (b.index === this.finding))
      .map((f) => this.pin(f, on(f.at)));
  }

  pin(finding, at) {
    const chosen = finding.index === this.finding;
    const group = shape("g", {
      class: `pin ${finding.level}${chosen ? " chosen" : ""}`,
      transform: `translate(${at.x.toFixed(1)} ${at.y.toFixed(1)})`,
      "data-finding": finding.index,
    });
    const r = chosen ? 10 : 7;
    if (chosen) group.append(shape("circle", { r: 19, class: "ring" }));
    group.append(shape("path", { d: MARK[finding.level](r) }));
    group.append(shape("title", {}, finding.code));
    if (chosen) group.append(shape("text", { x: 24, y: 5 }, finding.code));
    group.addEventListener("click", () => this.root.dispatchEvent(new CustomEvent("pin", { detail: finding.index })));
    return group;
  }
}

/** A shape a level, so that it is told without its colour: square, triangle, disc. */
const MARK = {
  error: (r) => `M${-r} ${-r}H${r}V${r}H${-r}Z`,
  warning: (r) => `M0 ${-r * 1.15}L${r * 1.15} ${r * 0.9}H${-r * 1.15}Z`,
  note: (r) => `M${-r} 0A${r} ${r} 0 1 0 ${r} 0A${r} ${r} 0 1 0 ${-r} 0Z`,
};

function quarters(x, y, r) {
  return `M${x} ${y}V${y - r}A${r} ${r} 0 0 1 ${x + r} ${y}ZM${x} ${y}V${y + r}A${r} ${r} 0 0 1 ${x - r} ${y}Z`;
}

function shape(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}
