/* From the packed meshes to drawable triangles: corners welded, normals smoothed over each face, sharp edges as lines. */
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
  const ids = Uint32Array.from(raw.triangles, (v) => weld[v]);
  const faces = raw.faces ?? Uint32Array.from({ length: corners / 3 }, (_, t) => t);
  const normals = faceByFace(faceNormals(at), ids, faces);
  return { at, normals, lines: sharpEdges(at, normals, faces, neighbours(ids, count)), box, faces: raw.faces };
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

/** Corner normals: the sum over the triangles of the same face that meet there, so that splinters do not count. */
function faceByFace(flat, ids, faces) {
  const total = faces.reduce((most, face) => Math.max(most, face), 0) + 1;
  const sums = new Map();
  const sumAt = (corner) => ids[corner] * total + faces[Math.floor(corner / 3)];
  for (let corner = 0; corner < ids.length; corner++) {
    const t = triangleOf(corner);
    const sum = sums.get(sumAt(corner)) ?? [0, 0, 0];
    for (let k = 0; k < 3; k++) sum[k] += flat[t + k];
    sums.set(sumAt(corner), sum);
  }
  const normals = new Float32Array(ids.length * 3);
  for (let corner = 0; corner < ids.length; corner++) normals.set(unit(sums.get(sumAt(corner))), corner * 3);
  return normals;
}

const following = (corner) => (corner % 3 === 2 ? corner - 2 : corner + 1);
const triangleOf = (corner) => Math.floor(corner / 3) * 3;
const ALONE = -1;
const CROWDED = -2;

/** For the edge that starts at each corner, the corner where the other triangle's edge starts. */
function neighbours(ids, count) {
  const across = new Int32Array(ids.length).fill(ALONE);
  const open = new Map();
  for (let corner = 0; corner < ids.length; corner++) {
    const [a, b] = [ids[corner], ids[following(corner)]];
    if (a === b) {
      across[corner] = CROWDED;
      continue;
    }
    const key = Math.min(a, b) * count + Math.max(a, b);
    const first = open.get(key);
    if (first === undefined) {
      open.set(key, corner);
    } else if (first === CROWDED) {
      across[corner] = CROWDED;
    } else {
      across[corner] = first;
      across[first] = corner;
      open.set(key, CROWDED);
    }
  }
  return across;
}

/** End points of the edges where two faces meet at an angle, or where only one ends. */
function sharpEdges(at, normals, faces, across) {
  const lines = [];
  const turned = (a, b) => {
    let cosine = 0;
    for (let k = 0; k < 3; k++) cosine += normals[a * 3 + k] * normals[b * 3 + k];
    return cosine < SHARP;
  };
  for (let corner = 0; corner < across.length; corner++) {
    const other = across[corner];
    if (other === CROWDED || (other >= 0 && other < corner)) continue;
    if (other >= 0) {
      if (faces[Math.floor(corner / 3)] === faces[Math.floor(other / 3)]) continue;
      if (!turned(corner, following(other)) && !turned(following(corner), other)) continue;
    }
    for (const end of [corner, following(corner)]) lines.push(at[end * 3], at[end * 3 + 1], at[end * 3 + 2]);
  }
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
