/* Small vectors as arrays of three numbers. */
const add = (a, b, f = 1) => [a[0] + f * b[0], a[1] + f * b[1], a[2] + f * b[2]];
const sub = (a, b) => add(a, b, -1);
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const times = (a, f) => [a[0] * f, a[1] * f, a[2] * f];
const size = (a) => Math.hypot(a[0], a[1], a[2]);
const unit = (a) => times(a, 1 / (size(a) || 1));
const mix = (a, b, t) => a + (b - a) * t;
const clamp = (x, low, high) => Math.min(high, Math.max(low, x));

/** An ISO 10303-42 placement {location, axis, ref_direction} as a frame {o, x, y, z}. */
function frameOf(placement) {
  const z = unit(placement.axis);
  const x = unit(add(placement.ref_direction, z, -dot(placement.ref_direction, z)));
  return { o: placement.location, x, y: cross(z, x), z };
}

/** A point given in a frame, in the part's frame. */
function fromFrame(frame, p) {
  return add(add(add(frame.o, frame.x, p[0]), frame.y, p[1]), frame.z, p[2]);
}

/** A point of the part's frame, in a frame. */
function toFrame(frame, p) {
  const d = sub(p, frame.o);
  return [dot(d, frame.x), dot(d, frame.y), dot(d, frame.z)];
}
