/* From the packed meshes to drawable triangles: corners welded, normals smoothed within an edge, sharp edges as lines. */
const SMOOTH = Math.cos((32 * Math.PI) / 180);
const SHARP = Math.cos((24 * Math.PI) / 180);

/** The bytes of the page's own data block, unpacked. */
async function unpack(text) {
  const packed = Uint8Array.from(atob(text.trim()), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Response(stream).arrayBuffer();
}

/** One mesh of the pack: coordinates on the pack's grid, vertex numbers, face numbers (or none). */
function readMesh(buffer, entry) {
  return {
    grid: new Uint16Array(buffer, entry.v[0], entry.v[1] * 3),
    triangles: new Uint32Array(buffer, entry.t[0], entry.t[1] * 3),
    faces: entry.f === undefined ? null : new Uint32Array(buffer, entry.f, entry.t[1]),
  };
}

/** Drawable arrays of a mesh: positions and normals of all corners, positions of the edge lines, its box. */
function prepare(raw, origin, step) {
  const { weld, count } = welded(raw.grid);
  const corners = raw.triangles.length;
  const at = new Float32Array(corners * 3);
  const box = { min: [Infinity, Infinity, Infinity], max: [-Infinity, -Infinity, -Infinity] };
  for (let i = 0; i < corners; i++) {
    for (let k = 0; k < 3; k++) {
      const value = origin[k] + raw.grid[raw.triangles[i] * 3 + k] * step[k];
      at[i * 3 + k] = value;
      if (value < box.min[k]) box.min[k] = value;
      if (value > box.max[k]) box.max[k] = value;
    }
  }
  const flat = faceNormals(at);
  const ids = Uint32Array.from(raw.triangles, (v) => weld[v]);
  return { at, normals: smoothed(flat, ids, count), lines: sharpEdges(at, flat, ids, count), box, faces: raw.faces };
}

function welded(grid) {
  const seen = new Map();
  const weld = new Uint32Array(grid.length / 3);
  for (let v = 0; v < weld.length; v++) {
    const key = grid[v * 3] + grid[v * 3 + 1] * 65536 + grid[v * 3 + 2] * 4294967296;
    let id = seen.get(key);
    if (id === undefined) {
      id = seen.size;
      seen.set(key, id);
    }
    weld[v] = id;
  }
  return { weld, count: seen.size };
}

/** Twice the area times the normal of each triangle. */
function faceNormals(at) {
  const flat = new Float32Array(at.length / 3);
  for (let t = 0; t < at.length; t += 9) {
    const ax = at[t + 3] - at[t], ay = at[t + 4] - at[t + 1], az = at[t + 5] - at[t + 2];
    const bx = at[t + 6] - at[t], by = at[t + 7] - at[t + 1], bz = at[t + 8] - at[t + 2];
    flat[t / 3] = ay * bz - az * by;
    flat[t / 3 + 1] = az * bx - ax * bz;
    flat[t / 3 + 2] = ax * by - ay * bx;
  }
  return flat;
}

function cosine(flat, s, t) {
  const [ax, ay, az, bx, by, bz] = [flat[s], flat[s + 1], flat[s + 2], flat[t], flat[t + 1], flat[t + 2]];
  const length = Math.hypot(ax, ay, az) * Math.hypot(bx, by, bz);
  return length > 0 ? (ax * bx + ay * by + az * bz) / length : 1;
}

/** Corner normals: the sum over the triangles at the corner that lie flat enough to this one. */
function smoothed(flat, ids, count) {
  const start = new Uint32Array(count + 1);
  for (const id of ids) start[id + 1]++;
  for (let i = 0; i < count; i++) start[i + 1] += start[i];
  const fill = start.slice(0, count);
  const around = new Uint32Array(ids.length);
  ids.forEach((id, corner) => (around[fill[id]++] = Math.floor(corner / 3) * 3));
  const normals = new Float32Array(ids.length * 3);
  for (let corner = 0; corner < ids.length; corner++) {
    const own = Math.floor(corner / 3) * 3;
    let x = 0, y = 0, z = 0;
    for (let j = start[ids[corner]]; j < start[ids[corner] + 1]; j++) {
      const other = around[j];
      if (other !== own && cosine(flat, own, other) < SMOOTH) continue;
      x += flat[other];
      y += flat[other + 1];
      z += flat[other + 2];
    }
    const length = Math.hypot(x, y, z) || 1;
    normals.set([x / length, y / length, z / length], corner * 3);
  }
  return normals;
}

/** End points of the edges where two triangles meet at an angle, or where only one ends. */
function sharpEdges(at, flat, ids, count) {
  const open = new Map();
  const lines = [];
  const push = (a, b) => {
    for (const corner of [a, b]) lines.push(at[corner * 3], at[corner * 3 + 1], at[corner * 3 + 2]);
  };
  for (let corner = 0; corner < ids.length; corner++) {
    const next = corner % 3 === 2 ? corner - 2 : corner + 1;
    const [low, high] = ids[corner] < ids[next] ? [ids[corner], ids[next]] : [ids[next], ids[corner]];
    if (low === high) continue;
    const key = low * count + high;
    const first = open.get(key);
    if (first === undefined) {
      open.set(key, [corner, next]);
      continue;
    }
    open.delete(key);
    const [s, t] = [Math.floor(first[0] / 3) * 3, Math.floor(corner / 3) * 3];
    if (cosine(flat, s, t) < SHARP) push(corner, next);
  }
  for (const [a, b] of open.values()) push(a, b);
  return new Float32Array(lines);
}

/** The corners of the triangles that lie on these faces: positions and normals. */
function ofFaces(body, faces) {
  const wanted = new Set(faces);
  const at = [];
  const normals = [];
  for (let t = 0; body.faces && t < body.faces.length; t++) {
    if (!wanted.has(body.faces[t])) continue;
    for (let k = 0; k < 9; k++) {
      at.push(body.at[t * 9 + k]);
      normals.push(body.normals[t * 9 + k]);
    }
  }
  return { at: new Float32Array(at), normals: new Float32Array(normals) };
}
