// A scan to look at: turn by dragging, come closer by wheel or two fingers, cut by a plane.
const CORNERS = `#version 300 es
  uniform mat4 view; in vec3 place; in float depth; out vec3 at; out float taken;
  void main() { at = place; taken = depth; gl_Position = view * vec4(place, 1.0); }`;
const FACES = `#version 300 es
  precision highp float; uniform vec4 plane; uniform vec3 eye; uniform vec4 colour; uniform bool flat_; uniform float deepest; in vec3 at; in float taken; out vec4 seen;
  void main() {
    if (flat_) { seen = colour; return; }
    if (dot(at, plane.xyz) > plane.w) discard;
    vec3 n = normalize(cross(dFdx(at), dFdy(at)));
    vec3 base = colour.rgb;
    if (deepest > 0.0) { // bronze where the port grew, blue where it shrank, checked by the scale beside it
      vec3 far = taken > 0.0 ? vec3(0.78, 0.31, 0.02) : vec3(0.05, 0.28, 0.66);
      base = mix(vec3(0.86), far, min(1.0, abs(taken) / deepest));
    }
    seen = vec4(base * (0.35 + 0.65 * abs(dot(n, eye))), 1.0);
  }`;

const read = (text, type) => new type(Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer);

export default {
  template: `
    <div class="mesh-view">
      <canvas ref="sheet" role="img" tabindex="0" :aria-label="label" style="width: 100%; height: 420px; touch-action: none; display: block"
        @pointerdown="down" @pointermove="move" @pointerup="up" @pointercancel="up" @wheel.prevent="wheel" @keydown="keys"></canvas>
      <span class="small soft">{{ say || (touching ? "Touch the place. Drag turns," : "Drag to turn,") + " wheel or two fingers to come closer, arrow keys too." }}</span>
    </div>`,
  props: { corners: String, faces: String, depths: String, deepest: Number, touching: Boolean, line: Array, plane: Array, outlines: Array, label: String },
  emits: ["touched"],
  data() { return { say: "" }; },
  watch: { plane() { this.draw(); }, outlines() { this.draw(); }, line() { this.draw(); } },
  mounted() {
    this.turn = [0.9659, 0.15, 0.2, 0.05];
    this.zoom = 1;
    this.fingers = new Map();
    this.gl = this.$refs.sheet.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
    if (!this.gl) { this.say = "This browser draws no 3-D pictures; the numbers below do not need it."; return; }
    this.prepare();
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this.$refs.sheet);
  },
  beforeUnmount() { if (this.watcher) this.watcher.disconnect(); },
  methods: {
    prepare() {
      const gl = this.gl, program = gl.createProgram();
      for (const [kind, text] of [[gl.VERTEX_SHADER, CORNERS], [gl.FRAGMENT_SHADER, FACES]]) {
        const shader = gl.createShader(kind);
        gl.shaderSource(shader, text);
        gl.compileShader(shader);
        if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
        gl.attachShader(program, shader);
      }
      gl.linkProgram(program);
      gl.useProgram(program);
      this.at = (name) => gl.getUniformLocation(program, name);
      this.place = gl.getAttribLocation(program, "place");
      const corners = read(this.corners, Float32Array);
      const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
      corners.forEach((v, i) => { low[i % 3] = Math.min(low[i % 3], v); high[i % 3] = Math.max(high[i % 3], v); });
      this.middle = low.map((v, k) => 0.5 * (v + high[k]));
      this.size = 0.5 * Math.hypot(...low.map((v, k) => high[k] - v));
      this.solid = this.keep(gl.ARRAY_BUFFER, corners);
      const faces = read(this.faces, Uint32Array);
      this.index = this.keep(gl.ELEMENT_ARRAY_BUFFER, faces);
      this.count = faces.length;
      this.points = corners;
      this.sides = faces;
      this.depth = gl.getAttribLocation(program, "depth");
      if (this.depths) this.taken = this.keep(gl.ARRAY_BUFFER, read(this.depths, Float32Array));
      this.thread = gl.createBuffer();
    },
    keep(kind, data) {
      const buffer = this.gl.createBuffer();
      this.gl.bindBuffer(kind, buffer);
      this.gl.bufferData(kind, data, this.gl.STATIC_DRAW);
      return buffer;
    },
    axes() {
      const [w, x, y, z] = this.turn;
      return [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
      ];
    },
    draw() {
      const gl = this.gl, sheet = this.$refs.sheet;
      if (!gl || !sheet) return;
      const fine = window.devicePixelRatio || 1;
      sheet.width = Math.max(1, sheet.clientWidth * fine);
      sheet.height = Math.max(1, sheet.clientHeight * fine);
      gl.viewport(0, 0, sheet.width, sheet.height);
      const dark = document.documentElement.dataset.theme === "dark";
      gl.clearColor(...(dark ? [0.1, 0.13, 0.16, 1] : [1, 0.99, 0.97, 1]));
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.enable(gl.DEPTH_TEST);
      const R = this.axes(), wide = sheet.width / sheet.height;
      const near = this.zoom / this.size;
      const s = [near * Math.min(1, 1 / wide), near * Math.min(1, wide), -0.5 / this.size];
      const m = new Float32Array(16);
      for (let r = 0; r < 3; r += 1) {
        for (let c = 0; c < 3; c += 1) m[4 * c + r] = s[r] * R[r][c];
        m[12 + r] = -s[r] * (R[r][0] * this.middle[0] + R[r][1] * this.middle[1] + R[r][2] * this.middle[2]);
      }
      m[15] = 1;
      gl.uniformMatrix4fv(this.at("view"), false, m);
      gl.uniform3fv(this.at("eye"), R[2]);
      gl.uniform4fv(this.at("plane"), this.plane && this.plane.length === 4 ? this.plane : [0, 0, 0, 1]);
      gl.uniform1i(this.at("flat_"), 0);
      gl.uniform4fv(this.at("colour"), dark ? [0.62, 0.72, 0.85, 1] : [0.45, 0.56, 0.7, 1]);
      gl.bindBuffer(gl.ARRAY_BUFFER, this.solid);
      gl.enableVertexAttribArray(this.place);
      gl.vertexAttribPointer(this.place, 3, gl.FLOAT, false, 0, 0);
      gl.uniform1f(this.at("deepest"), this.taken ? this.deepest : 0);
      if (this.taken) {
        gl.bindBuffer(gl.ARRAY_BUFFER, this.taken);
        gl.enableVertexAttribArray(this.depth);
        gl.vertexAttribPointer(this.depth, 1, gl.FLOAT, false, 0, 0);
      } else gl.vertexAttrib1f(this.depth, 0);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, this.index);
      gl.drawElements(gl.TRIANGLES, this.count, gl.UNSIGNED_INT, 0);
      gl.disableVertexAttribArray(this.depth);
      gl.disable(gl.DEPTH_TEST); // lines show through
      gl.uniform1i(this.at("flat_"), 1);
      this.stroke(this.line, dark ? [0.95, 0.64, 0.42, 1] : [0.64, 0.28, 0.04, 1]);
      for (const outline of this.outlines || []) this.stroke(outline, dark ? [1, 1, 1, 1] : [0, 0, 0, 1]);
    },
    stroke(points, colour) {
      if (!points || points.length < 6) return;
      const gl = this.gl;
      gl.uniform4fv(this.at("colour"), colour);
      gl.bindBuffer(gl.ARRAY_BUFFER, this.thread);
      gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(points), gl.STREAM_DRAW);
      gl.vertexAttribPointer(this.place, 3, gl.FLOAT, false, 0, 0);
      gl.drawArrays(gl.LINE_STRIP, 0, points.length / 3);
    },
    rotate(dx, dy) {
      const [w, x, y, z] = this.turn, a = 0.5 * dy, b = 0.5 * dx;
      const [p, q, r] = [Math.cos(Math.hypot(a, b)), a, b];
      const t = [p * w - q * x - r * y, p * x + q * w + r * z, p * y + r * w - q * z, p * z + q * y - r * x];
      const n = Math.hypot(...t);
      this.turn = t.map((v) => v / n);
      this.draw();
    },
    spread() { const [a, b] = [...this.fingers.values()]; return Math.hypot(a[0] - b[0], a[1] - b[1]); },
    hit(e) { // nearest triangle under a touch, in metres
      const sheet = this.$refs.sheet, box = sheet.getBoundingClientRect(), R = this.axes();
      const wide = box.width / box.height, near = this.zoom / this.size;
      const x = (2 * (e.clientX - box.left) / box.width - 1) / (near * Math.min(1, 1 / wide));
      const y = (1 - 2 * (e.clientY - box.top) / box.height) / (near * Math.min(1, wide));
      const p = this.points, n = p.length / 3, q = new Float32Array(p.length), cut = this.plane && this.plane.length === 4;
      for (let i = 0; i < n; i += 1) {
        for (let r = 0; r < 3; r += 1) {
          q[3 * i + r] = R[r][0] * (p[3 * i] - this.middle[0]) + R[r][1] * (p[3 * i + 1] - this.middle[1]) + R[r][2] * (p[3 * i + 2] - this.middle[2]);
        }
      }
      let best = null;
      for (let f = 0; f < this.sides.length; f += 3) {
        const [a, b, c] = [3 * this.sides[f], 3 * this.sides[f + 1], 3 * this.sides[f + 2]];
        const d = (q[b + 1] - q[c + 1]) * (q[a] - q[c]) + (q[c] - q[b]) * (q[a + 1] - q[c + 1]);
        if (Math.abs(d) < 1e-18) continue;
        const u = ((q[b + 1] - q[c + 1]) * (x - q[c]) + (q[c] - q[b]) * (y - q[c + 1])) / d;
        const v = ((q[c + 1] - q[a + 1]) * (x - q[c]) + (q[a] - q[c]) * (y - q[c + 1])) / d;
        if (u < 0 || v < 0 || u + v > 1) continue;
        const z = u * q[a + 2] + v * q[b + 2] + (1 - u - v) * q[c + 2];
        if (best && z <= best[0]) continue;
        const at = [0, 1, 2].map((k) => u * p[a + k] + v * p[b + k] + (1 - u - v) * p[c + k]);
        if (cut && at[0] * this.plane[0] + at[1] * this.plane[1] + at[2] * this.plane[2] > this.plane[3]) continue;
        best = [z, at];
      }
      return best && best[1];
    },
    down(e) { this.from = [e.clientX, e.clientY, this.fingers.size === 0]; this.$refs.sheet.setPointerCapture(e.pointerId); this.fingers.set(e.pointerId, [e.clientX, e.clientY]); },
    up(e) {
      this.fingers.delete(e.pointerId);
      if (!this.touching || !this.gl || !this.from || !this.from[2]) return;
      if (Math.hypot(e.clientX - this.from[0], e.clientY - this.from[1]) > 8) return;
      const at = this.hit(e);
      if (at) this.$emit("touched", at);
    },
    move(e) {
      const last = this.fingers.get(e.pointerId);
      if (!last || !this.gl) return;
      const before = this.fingers.size === 2 ? this.spread() : 0;
      this.fingers.set(e.pointerId, [e.clientX, e.clientY]);
      if (this.fingers.size === 2) this.closer(this.spread() / Math.max(1, before));
      else if (this.fingers.size === 1) this.rotate(0.01 * (e.clientX - last[0]), 0.01 * (e.clientY - last[1]));
    },
    closer(by) { this.zoom = Math.min(20, Math.max(0.3, this.zoom * by)); this.draw(); },
    wheel(e) { this.closer(Math.exp(-0.001 * e.deltaY)); },
    keys(e) {
      const way = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, -0.15], ArrowDown: [0, 0.15] }[e.key];
      if (way) { e.preventDefault(); this.rotate(...way); }
      if (e.key === "+" || e.key === "-") this.closer(e.key === "+" ? 1.15 : 1 / 1.15);
    },
  },
};
