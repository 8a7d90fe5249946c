/* Drawing with WebGL: lit surfaces, edge lines, a section plane with hatched caps. */
const SURFACE_VERTEX = `
attribute vec3 at; attribute vec3 normal;
uniform vec3 right, up, toward, target; uniform vec2 reach; uniform float depth, lift;
varying vec3 where_, normal_;
void main() {
  vec3 d = at - target;
  where_ = at;
  normal_ = vec3(dot(normal, right), dot(normal, up), dot(normal, toward));
  gl_Position = vec4(dot(d, right) / reach.x, dot(d, up) / reach.y, -dot(d, toward) / depth - lift, 1.0);
}`;
const SURFACE_FRAGMENT = `
precision highp float;
uniform vec4 colour, plane; uniform float cutting, stripes, lit;
varying vec3 where_, normal_;
void main() {
  if (cutting > 0.5 && dot(where_, plane.xyz) > plane.w) discard;
  if (stripes > 0.5 && mod(gl_FragCoord.x + gl_FragCoord.y, stripes) < stripes * 0.36) discard;
  vec3 n = normalize(normal_);
  if (n.z < 0.0) n = -n;
  float key = max(dot(n, normalize(vec3(-0.42, 0.58, 0.7))), 0.0);
  float light = mix(1.0, 0.56 + 0.38 * key + 0.12 * n.z, lit);
  gl_FragColor = vec4(colour.rgb * light, colour.a);
}`;
/* An edge is a thin ribbon that faces the viewer: as wide on every screen, and whole on every driver. */
const EDGE_VERTEX = `
attribute vec3 at; attribute vec3 other; attribute float side;
uniform vec3 right, up, toward, target; uniform vec2 reach, pixels; uniform float depth, lift, width;
varying vec3 where_, normal_;
vec2 seen(vec3 p) { vec3 d = p - target; return vec2(dot(d, right) / reach.x, dot(d, up) / reach.y); }
void main() {
  vec2 here = seen(at);
  vec2 along = (seen(other) - here) * pixels;
  vec2 across = length(along) > 0.0 ? normalize(vec2(-along.y, along.x)) : vec2(0.0);
  where_ = at;
  normal_ = vec3(0.0, 0.0, 1.0);
  gl_Position = vec4(here + across * side * width / pixels, -dot(at - target, toward) / depth - lift, 1.0);
}`;
const CAP_FRAGMENT = `
precision highp float;
uniform vec4 colour, plane; uniform float cutting, stripes, lit;
varying vec3 where_, normal_;
void main() {
  float hatch = mod(gl_FragCoord.x - gl_FragCoord.y, stripes);
  vec3 ink = colour.rgb * 0.45;
  gl_FragColor = vec4(mix(colour.rgb * 1.04, ink, step(hatch, stripes * 0.2)), 1.0);
}`;
const UNIFORMS = ["right", "up", "toward", "target", "reach", "depth", "lift", "colour", "plane", "cutting", "stripes", "lit", "pixels", "width"];

function program(gl, vertex, fragment) {
  const made = gl.createProgram();
  for (const [kind, source] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
    gl.attachShader(made, shader);
  }
  gl.bindAttribLocation(made, 0, "at");
  gl.bindAttribLocation(made, 1, "normal");
  gl.bindAttribLocation(made, 2, "other");
  gl.bindAttribLocation(made, 3, "side");
  gl.linkProgram(made);
  const at = {};
  for (const name of UNIFORMS) at[name] = gl.getUniformLocation(made, name);
  return { made, at };
}

/** Two triangles a line: position, position of the other end, and the side to go to. Six vertices of seven numbers. */
function ribbons(lines) {
  const made = new Float32Array(lines.length * 7);
  let next = 0;
  for (let i = 0; i < lines.length; i += 6) {
    const a = lines.subarray(i, i + 3), b = lines.subarray(i + 3, i + 6);
    for (const [here, there, side] of [[a, b, -1], [a, b, 1], [b, a, -1], [b, a, -1], [b, a, 1], [a, b, -1]]) {
      made.set(here, next);
      made.set(there, next + 3);
      made[next + 6] = side;
      next += 7;
    }
  }
  return made;
}

class Painter {
  constructor(canvas) {
    this.canvas = canvas;
    const gl = canvas.getContext("webgl", { antialias: true, stencil: true, alpha: true, preserveDrawingBuffer: true });
    if (!gl) throw new Error("this browser has no WebGL");
    this.gl = gl;
    this.surface = program(gl, SURFACE_VERTEX, SURFACE_FRAGMENT);
    this.cap = program(gl, SURFACE_VERTEX, CAP_FRAGMENT);
    this.edge = program(gl, EDGE_VERTEX, SURFACE_FRAGMENT);
    this.quad = this.upload(new Float32Array(18), new Float32Array(18), gl.DYNAMIC_DRAW);
  }

  /** Buffers of triangles; edges, when given, as lines. */
  upload(at, normals, usage = this.gl.STATIC_DRAW, lines = null) {
    const gl = this.gl;
    const buffer = (data) => {
      const made = gl.createBuffer();
      gl.bindBuffer(gl.ARRAY_BUFFER, made);
      gl.bufferData(gl.ARRAY_BUFFER, data, usage);
      return made;
    };
    const made = { at: buffer(at), normals: buffer(normals), count: at.length / 3 };
    return lines ? { ...made, lines: buffer(ribbons(lines)), lineCount: lines.length } : made;
  }

  release(buffers) {
    this.gl.deleteBuffer(buffers.at);
    this.gl.deleteBuffer(buffers.normals);
  }

  /** Start a frame: camera {right, up, toward, target, reach, depth} and section {normal, offset} or null. */
  begin(camera, section) {
    const gl = this.gl;
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT | gl.STENCIL_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.enable(gl.POLYGON_OFFSET_FILL); // surfaces step back a little, so that edge lines on them are whole
    gl.polygonOffset(2, 4);
    this.camera = camera;
    this.section = section;
    this.stripe = 9 * (window.devicePixelRatio || 1);
  }

  use(which, colour, { alpha = 1, stripes = 0, lit = 1, lift = 0, cut = true } = {}) {
    const { gl, camera, section } = this;
    gl.useProgram(which.made);
    for (const name of ["right", "up", "toward", "target"]) gl.uniform3fv(which.at[name], camera[name]);
    gl.uniform2fv(which.at.reach, camera.reach);
    gl.uniform1f(which.at.depth, camera.depth);
    gl.uniform1f(which.at.lift, lift);
    gl.uniform4f(which.at.colour, colour[0], colour[1], colour[2], alpha);
    gl.uniform1f(which.at.stripes, stripes);
    gl.uniform1f(which.at.lit, lit);
    gl.uniform1f(which.at.cutting, section && cut ? 1 : 0);
    if (section) gl.uniform4f(which.at.plane, ...section.normal, section.offset);
  }

  triangles(buffers) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, buffers.at);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
    gl.bindBuffer(gl.ARRAY_BUFFER, buffers.normals);
    gl.enableVertexAttribArray(1);
    gl.vertexAttribPointer(1, 3, gl.FLOAT, false, 0, 0);
    gl.drawArrays(gl.TRIANGLES, 0, buffers.count);
  }

  lines(buffers, colour, alpha) {
    const gl = this.gl;
    this.use(this.edge, colour, { alpha, lit: 0, lift: 0.0006 });
    gl.uniform2f(this.edge.at.pixels, this.canvas.width, this.canvas.height);
    gl.uniform1f(this.edge.at.width, 1.25 * Math.max(1, this.stripe / 9));
    gl.bindBuffer(gl.ARRAY_BUFFER, buffers.lines);
    gl.disableVertexAttribArray(1);
    for (const [index, count, offset] of [[0, 3, 0], [2, 3, 12], [3, 1, 24]]) {
      gl.enableVertexAttribArray(index);
      gl.vertexAttribPointer(index, count, gl.FLOAT, false, 28, offset);
    }
    gl.drawArrays(gl.TRIANGLES, 0, buffers.lineCount);
    gl.disableVertexAttribArray(2);
    gl.disableVertexAttribArray(3);
  }

  /** A body that hides what is behind it, with its section filled in. */
  solid(buffers, colour, ink, options = {}) {
    this.use(this.surface, colour, options);
    this.triangles(buffers);
    if (this.section) this.fill(buffers, colour);
    this.lines(buffers, ink, 0.85);
  }

  /** A body that one sees through. */
  glass(buffers, colour, ink, alpha) {
    const gl = this.gl;
    gl.depthMask(false);
    this.use(this.surface, colour, { alpha });
    this.triangles(buffers);
    gl.depthMask(true);
    this.lines(buffers, ink, 0.4);
  }

  /** Close the cut body where the section plane meets it: an odd number of surfaces behind a pixel means metal. */
  fill(buffers, colour) {
    const gl = this.gl;
    gl.clear(gl.STENCIL_BUFFER_BIT);
    gl.enable(gl.STENCIL_TEST);
    gl.stencilFunc(gl.ALWAYS, 0, 1);
    gl.stencilOp(gl.INVERT, gl.INVERT, gl.INVERT);
    gl.colorMask(false, false, false, false);
    gl.depthMask(false);
    gl.disable(gl.DEPTH_TEST);
    this.use(this.surface, colour);
    this.triangles(buffers);
    gl.enable(gl.DEPTH_TEST);
    gl.depthMask(true);
    gl.colorMask(true, true, true, true);
    gl.stencilFunc(gl.EQUAL, 1, 1);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.KEEP);
    this.use(this.cap, colour, { stripes: this.stripe, cut: false });
    this.triangles(this.planeQuad());
    gl.disable(gl.STENCIL_TEST);
  }

  planeQuad() {
    const { gl, section, camera } = this;
    const u = unit(cross(section.normal, Math.abs(section.normal[0]) < 0.9 ? [1, 0, 0] : [0, 1, 0]));
    const v = cross(section.normal, u);
    const middle = add(camera.target, section.normal, section.offset - dot(camera.target, section.normal));
    const corner = (a, b) => add(add(middle, u, a * camera.depth * 2), v, b * camera.depth * 2);
    const [a, b, c, d] = [corner(-1, -1), corner(1, -1), corner(1, 1), corner(-1, 1)];
    gl.bindBuffer(gl.ARRAY_BUFFER, this.quad.at);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, new Float32Array([a, b, c, a, c, d].flat()));
    return this.quad;
  }
}
