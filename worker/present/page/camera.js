/* How the model is looked at: turned about the setup's axis, parallel projection. Angles in radians, lengths in mm. */
class Camera {
  constructor() {
    this.azimuth = (-58 * Math.PI) / 180;
    this.elevation = (28 * Math.PI) / 180;
    this.radius = 100;
    this.target = [0, 0, 0];
    this.size = 100;
  }

  /** Look at a sphere in a frame: everything in it is in view. */
  fit(frame, middle, size) {
    this.frame = frame;
    this.target = middle;
    this.radius = size;
    this.size = size;
  }

  /** The view's directions and reach for a canvas of this shape. */
  view(width, height) {
    const { frame, azimuth, elevation } = this;
    const level = add(times(frame.x, Math.cos(azimuth)), frame.y, Math.sin(azimuth));
    const right = add(times(frame.x, -Math.sin(azimuth)), frame.y, Math.cos(azimuth));
    const toward = add(times(level, Math.cos(elevation)), frame.z, Math.sin(elevation));
    const up = cross(toward, right);
    const least = Math.min(width, height);
    const reach = [(this.radius * width) / least, (this.radius * height) / least];
    return { right, up, toward, target: this.target, reach, depth: this.size * 4 };
  }

  turn(dx, dy) {
    this.azimuth = (this.azimuth - dx) % (2 * Math.PI);
    this.elevation = clamp(this.elevation + dy, -Math.PI / 2, Math.PI / 2);
  }

  zoom(factor) {
    this.radius = clamp(this.radius * factor, this.size / 60, this.size * 4);
  }

  /** Move the target by pixels of a canvas. */
  pan(dx, dy, width, height) {
    const { right, up } = this.view(width, height);
    const scale = (2 * this.radius) / Math.min(width, height);
    this.target = add(add(this.target, right, -dx * scale), up, dy * scale);
  }
}

/** Where a point of the part's frame falls on a canvas, in pixels, and how near it is. */
function project(view, width, height, p) {
  const d = sub(p, view.target);
  const x = (dot(d, view.right) / view.reach[0] + 1) / 2;
  const y = (1 - dot(d, view.up) / view.reach[1]) / 2;
  return { x: x * width, y: y * height, near: dot(d, view.toward) };
}

/** Mouse, finger, pen and keyboard on the canvas: one turns, two pinch and move, shift moves, the wheel zooms. */
function steer(canvas, camera, changed) {
  const held = new Map();
  let gap = 0;
  const spread = () => {
    const [a, b] = [...held.values()];
    return Math.hypot(a.x - b.x, a.y - b.y);
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    held.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (held.size === 2) gap = spread();
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = held.get(event.pointerId);
    if (!before) return;
    const [dx, dy] = [event.clientX - before.x, event.clientY - before.y];
    held.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (held.size === 1 && !event.shiftKey && event.buttons !== 4 && event.buttons !== 2) {
      camera.turn(dx * 0.009, dy * 0.009);
    } else {
      camera.pan(dx / held.size, dy / held.size, canvas.clientWidth, canvas.clientHeight);
    }
    if (held.size === 2) {
      const now = spread();
      if (gap > 0 && now > 0) camera.zoom(gap / now);
      gap = now;
    }
    changed();
  });
  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, (event) => held.delete(event.pointerId));
  }
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      camera.zoom(Math.exp(clamp(event.deltaY, -120, 120) * 0.0016));
      changed();
    },
    { passive: false },
  );
  const keys = {
    ArrowLeft: () => camera.turn(-0.12, 0),
    ArrowRight: () => camera.turn(0.12, 0),
    ArrowUp: () => camera.turn(0, 0.12),
    ArrowDown: () => camera.turn(0, -0.12),
    "+": () => camera.zoom(0.85),
    "=": () => camera.zoom(0.85),
    "-": () => camera.zoom(1 / 0.85),
  };
  canvas.addEventListener("keydown", (event) => {
    if (!keys[event.key]) return;
    event.preventDefault();
    keys[event.key]();
    changed();
  });
}
