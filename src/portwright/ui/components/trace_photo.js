// A photo to mark and trace on, by finger, pen or mouse.  Points are kept in picture pixels with the
// enlargement at which they were placed; the draft survives a reload in this tab.
// Screen px within which a point is meant.  A lone one is dragged at once; one among many is first
// picked by a tap, so that a line can begin anywhere on the outline.
const NEAR = 26;
const STILL = 8; // screen px below which a touch is a tap
const STEP = 9; // screen px between points of a drawn line
const LOUPE = 150;
const HOLES = 2; // by which a face is laid on its counterpart
const TRIES = 5; // for a photo that does not come, each a little later

export default {
  template: `
    <div class="tracing">
      <div class="row-wrap tools" role="group" aria-label="View and undo">
        <button type="button" class="lamp wide" @click="zoomBy(1 / 1.5)" aria-label="Smaller">−</button>
        <button type="button" class="lamp wide" @click="zoomBy(1.5)" aria-label="Larger">+</button>
        <button type="button" class="lamp wide" @click="fit">Whole</button>
        <button type="button" class="lamp wide" :disabled="!past.length" @click="undo">Undo</button>
        <button type="button" class="lamp wide" :disabled="!picked" aria-label="Remove point" @click="remove">Remove</button>
        <button type="button" class="lamp wide" :disabled="!outline.length" @click="clear">New outline</button>
      </div>
      <div class="view" ref="view" tabindex="0" role="application" :data-tool="tool" :aria-label="'Photo. ' + words"
        @pointerdown="down" @pointermove="move" @pointerup="up" @pointercancel="cancel" @wheel.prevent="wheel" @keydown="key">
        <img ref="img" :src="tries ? address + '?again=' + tries : address" alt="" draggable="false" :style="placed" @load="loaded" @error="missing" />
        <svg aria-hidden="true">
          <path v-if="path" class="halo" :d="path" /><path v-if="path" class="edge" :d="path" :data-closed="closed" />
          <path v-if="frame" class="halo" :d="frame" /><path v-if="frame" class="scale" :d="frame" />
          <g v-if="outline.length <= 150 || k > 0.8">
            <circle v-for="(p, i) in outline" :key="'o' + i" class="dot" :class="{ picked: is('outline', i) }" :cx="sx(p)" :cy="sy(p)" :r="is('outline', i) ? 8 : 4" />
          </g>
          <g v-for="(p, i) in marks" :key="'m' + i" class="mark" :class="{ picked: is('marks', i) }" :transform="'translate(' + sx(p) + ',' + sy(p) + ')'">
            <path class="halo" d="M-14 0H-3M3 0H14M0-14V-3M0 3V14" /><path d="M-14 0H-3M3 0H14M0-14V-3M0 3V14" /><text x="10" y="-10">{{ i + 1 }}</text>
          </g>
          <g v-for="(p, i) in holes" :key="'h' + i" class="mark hole" :class="{ picked: is('holes', i) }" :transform="'translate(' + sx(p) + ',' + sy(p) + ')'">
            <path class="halo" d="M-9 0A9 9 0 1 0 9 0A9 9 0 1 0 -9 0M-14 0H-3M3 0H14" /><path d="M-9 0A9 9 0 1 0 9 0A9 9 0 1 0 -9 0M-14 0H-3M3 0H14" /><text x="12" y="-10">hole {{ i + 1 }}</text>
          </g>
        </svg>
        <div v-if="figure" class="figure" aria-hidden="true">{{ figure }}</div>
        <div v-if="loupe" class="loupe" :style="loupeStyle" aria-hidden="true"></div>
      </div>
      <p class="small" role="status">{{ said }}</p>
    </div>`,
  props: {
    address: String, keep: String, width: Number, height: Number, tool: String, words: String,
    scale: String, most: Number, extra: Object, figure: String,
  },
  emits: ["changed", "seed", "restored"],
  data() {
    return {
      marks: [], marksFor: this.scale, outline: [], holes: [], closed: false, past: [], picked: null, loupe: null, broken: "", tries: 0,
      k: 0, ox: 0, oy: 0,
    };
  },
  created() { this.fingers = new Map(); this.act = null; },
  computed: {
    placed() { return { transform: `translate(${this.ox}px, ${this.oy}px) scale(${this.k})`, width: this.width + "px" }; },
    path() { return this.line(this.outline, true); },
    frame() { return this.marks.length > 1 ? this.line(this.marks, this.marks.length > 2) : ""; },
    said() {
      return this.broken || this.words;
    },
    loupeStyle() {
      const { x, y } = this.loupe, s = this.k * 3;
      const side = x * this.k + this.ox < LOUPE + 40 && y * this.k + this.oy < LOUPE + 40 ? { right: "8px" } : { left: "8px" };
      return {
        ...side, width: LOUPE + "px", height: LOUPE + "px", backgroundImage: `linear-gradient(#fff9, #fff9), linear-gradient(#fff9, #fff9), linear-gradient(#000, #000), linear-gradient(#000, #000), url("${this.address}")`,
        backgroundRepeat: "no-repeat",
        backgroundSize: `100% 1px, 1px 100%, 100% 3px, 3px 100%, ${this.width * s}px ${this.height * s}px`,
        backgroundPosition: `0 50%, 50% 0, 0 50%, 50% 0, ${LOUPE / 2 - x * s}px ${LOUPE / 2 - y * s}px`,
      };
    },
  },
  watch: {
    scale() { this.scaleChanged(); },
    extra() { this.store(); },
  },
  mounted() {
    this.fit();
    this.sized = new ResizeObserver(() => { if (!this.touched) this.fit(); });
    this.sized.observe(this.$refs.view);
    const kept = JSON.parse(sessionStorage.getItem("pw-trace:" + this.keep) || "null");
    if (!kept) return;
    Object.assign(this, { marks: kept.marks, outline: kept.outline, holes: kept.holes || [], closed: kept.closed, marksFor: kept.extra.scale });
    this.$emit("restored", { ...this.state(), extra: kept.extra });
  },
  beforeUnmount() { this.sized.disconnect(); clearTimeout(this.timer); clearTimeout(this.next); },
  methods: {
    sx(p) { return p[0] * this.k + this.ox; },
    sy(p) { return p[1] * this.k + this.oy; },
    line(points, close) {
      if (points.length < 2) return "";
      return "M" + points.map((p) => `${this.sx(p).toFixed(1)} ${this.sy(p).toFixed(1)}`).join("L") + (close ? "Z" : "");
    },
    is(list, i) { return this.picked && this.picked.list === list && this.picked.i === i; },
    loaded() {
      const upright = this.$refs.img.naturalWidth === this.width && this.$refs.img.naturalHeight === this.height;
      this.broken = upright ? "" : "This browser does not show the photo upright; trace it on another one.";
    },
    missing() {
      this.broken = "The photo has not come yet; reload the page if it stays away.";
      if (this.tries < TRIES) this.next = setTimeout(() => { this.tries += 1; }, 500 * (this.tries + 1));
    },
    // --- view -------------------------------------------------------------------------------
    fit() {
      const { clientWidth: across, clientHeight: up } = this.$refs.view;
      this.k = Math.min(across / this.width, up / this.height);
      this.ox = (across - this.width * this.k) / 2;
      this.oy = (up - this.height * this.k) / 2;
      this.touched = false;
    },
    zoomAt(x, y, factor) {
      const k = Math.min(12, Math.max(0.05, this.k * factor)), by = k / this.k;
      this.ox = x - (x - this.ox) * by;
      this.oy = y - (y - this.oy) * by;
      this.k = k;
      this.touched = true;
    },
    zoomBy(factor) {
      const { clientWidth: across, clientHeight: up } = this.$refs.view;
      const p = this.picked && this[this.picked.list][this.picked.i];
      this.zoomAt(p ? this.sx(p) : across / 2, p ? this.sy(p) : up / 2, factor);
    },
    wheel(event) { const at = this.at(event); this.zoomAt(at.x, at.y, Math.exp(-event.deltaY / 500)); },
    // --- pointers ---------------------------------------------------------------------------
    at(event) {
      const view = this.$refs.view, box = view.getBoundingClientRect();
      return { x: event.clientX - box.left - view.clientLeft, y: event.clientY - box.top - view.clientTop };
    },
    point(at) {
      const inside = (v, most) => Math.min(most, Math.max(0, v));
      return [inside((at.x - this.ox) / this.k, this.width), inside((at.y - this.oy) / this.k, this.height), this.k];
    },
    down(event) {
      if (event.button > 0) return;
      this.$refs.view.setPointerCapture(event.pointerId);
      this.fingers.set(event.pointerId, this.at(event));
      if (this.fingers.size === 2) { this.giveUp(); this.act = { kind: "pinch" }; return; }
      if (this.fingers.size > 2) return;
      const at = this.at(event);
      this.act = this.begin(at);
      if (this.act.kind !== "pan" && this.act.kind !== "seed") this.look(at);
    },
    begin(at) {
      const before = this.snapshot();
      if (this.tool === "move") return { kind: "pan", at };
      if (this.tool === "suggest") return { kind: "seed", at };
      const list = { scale: "marks", holes: "holes" }[this.tool] || "outline";
      const near = this.nearest(this[list], at);
      if (near >= 0 && (list !== "outline" || this.is(list, near) || this.alone(near))) {
        this.picked = { list, i: near };
        return { kind: "drag", list, i: near, before, at, start: at };
      }
      if (list === "outline") return { kind: "stroke", before, at, start: at, near, drawn: [this.point(at)], far: false };
      if (this[list].length >= (list === "marks" ? this.most : HOLES)) return { kind: "pan", at };
      this[list] = [...this[list], this.point(at)];
      if (list === "marks") this.marksFor = this.scale;
      this.picked = { list, i: this[list].length - 1 };
      return { kind: "drag", list, i: this[list].length - 1, before, at, start: at, far: true };
    },
    move(event) {
      if (!this.fingers.has(event.pointerId) || !this.act) return;
      const old = this.fingers.get(event.pointerId), at = this.at(event), act = this.act;
      if (act.kind === "pinch") {
        const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
        const span = (p) => Math.hypot(p.x - other.x, p.y - other.y);
        const middle = { x: (at.x + other.x) / 2, y: (at.y + other.y) / 2 };
        this.ox += (at.x - old.x) / 2;
        this.oy += (at.y - old.y) / 2;
        this.zoomAt(middle.x, middle.y, span(at) / Math.max(20, span(old)));
      }
      this.fingers.set(event.pointerId, at);
      if (act.kind === "pan") { this.ox += at.x - act.at.x; this.oy += at.y - act.at.y; act.at = at; this.touched = true; }
      if (act.start && Math.hypot(at.x - act.start.x, at.y - act.start.y) > STILL) act.far = true;
      if (act.kind === "drag" && act.far) {
        // the point moves as far as the finger, wherever the finger took hold of it
        const p = this[act.list][act.i];
        const to = this.point({ x: this.sx(p) + at.x - act.at.x, y: this.sy(p) + at.y - act.at.y });
        this[act.list] = this[act.list].map((q, i) => (i === act.i ? to : q));
        act.at = at;
        this.look({ x: this.sx(to), y: this.sy(to) });
      }
      if (act.kind === "stroke") {
        this.look(at);
        const last = act.drawn[act.drawn.length - 1];
        if (act.far && Math.hypot(this.sx(last) - at.x, this.sy(last) - at.y) >= STEP) {
          act.drawn.push(this.point(at));
          if (!this.closed) this.outline = [...act.before.outline, ...act.drawn];
          this.tellSoon();
        }
      }
    },
    up(event) {
      if (!this.fingers.delete(event.pointerId) || !this.act) return;
      const act = this.act;
      if (act.kind === "pinch") { if (this.fingers.size === 0) this.act = null; return; }
      this.act = null;
      this.loupe = null;
      if (act.kind === "seed") { const [x, y] = this.point(this.at(event)); this.$emit("seed", { x, y }); return; }
      if (act.kind === "pan") return;
      if (act.kind === "stroke") this.finish(act);
      if (act.kind === "stroke" && !act.far && act.near >= 0) return;
      const same = JSON.stringify(act.before) === JSON.stringify(this.snapshot());
      if (!same) { this.past = [...this.past.slice(-99), act.before]; this.tell(); }
    },
    cancel(event) { this.fingers.delete(event.pointerId); this.giveUp(); if (!this.fingers.size) this.act = null; },
    giveUp() {
      if (this.act && this.act.before) this.restore(this.act.before);
      this.act = null;
      this.loupe = null;
    },
    finish(act) {
      if (!act.far && act.near >= 0) this.picked = { list: "outline", i: act.near };
      else if (!act.far) this.put(act.drawn[0]);
      else if (this.closed) this.replace(act.drawn);
      else this.outline = [...act.before.outline, ...act.drawn];
      const n = this.outline.length;
      if (!this.closed && n > 7) {
        const a = this.outline[0], b = this.outline[n - 1];
        if (Math.hypot(this.sx(a) - this.sx(b), this.sy(a) - this.sy(b)) < NEAR) {
          this.closed = true;
          if (act.far) this.outline = this.outline.slice(0, -1);
          this.picked = null;
        }
      }
    },
    put(point) {
      let i = this.outline.length;
      if (this.closed) { // into the side it lies nearest to
        let best = Infinity;
        this.outline.forEach((a, j) => {
          const away = this.fromSide(point, a, this.outline[(j + 1) % this.outline.length]);
          if (away < best) { best = away; i = j + 1; }
        });
      }
      this.outline = [...this.outline.slice(0, i), point, ...this.outline.slice(i)];
      this.picked = { list: "outline", i };
    },
    replace(drawn) { // the part of the outline between both ends of the stroke follows the stroke
      const index = (p) => this.nearest(this.outline, { x: this.sx(p), y: this.sy(p) }, Infinity);
      const n = this.outline.length, i = index(drawn[0]), j = index(drawn[drawn.length - 1]);
      const arc = (from, to) => Array.from({ length: ((to - from + n) % n) + 1 }, (_, s) => this.outline[(from + s) % n]);
      const long = (points) => points.slice(1).reduce((sum, p, s) => sum + Math.hypot(p[0] - points[s][0], p[1] - points[s][1]), 0);
      const forth = arc(i, j), back = arc(j, i);
      const kept = long(forth) < long(back) ? back.slice(1, -1) : forth.slice(1, -1).reverse();
      this.outline = [...drawn, ...kept];
      this.picked = null;
    },
    alone(i) { // far enough from its neighbours to be meant; among close ones a drag draws
      const n = this.outline.length, p = this.outline[i];
      if (!this.closed && i < n - 1) return true; // an open outline goes on from its end only
      return [i - 1, i + 1].every((j) => {
        const q = this.outline[(j + n) % n];
        return q === p || Math.hypot(this.sx(p) - this.sx(q), this.sy(p) - this.sy(q)) > 1.2 * NEAR;
      });
    },
    fromSide(p, a, b) {
      const dx = b[0] - a[0], dy = b[1] - a[1];
      const t = Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy || 1)));
      return Math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy);
    },
    nearest(points, at, within = NEAR) {
      let best = within, found = -1;
      points.forEach((p, i) => {
        const away = Math.hypot(this.sx(p) - at.x, this.sy(p) - at.y);
        if (away < best) { best = away; found = i; }
      });
      return found;
    },
    look(at) { const [x, y] = this.point(at); this.loupe = { x, y }; },
    // --- changes ----------------------------------------------------------------------------
    key(event) {
      const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      if ((event.ctrlKey || event.metaKey) && event.key === "z") this.undo();
      else if (event.key === "Delete" || event.key === "Backspace") this.remove();
      else if (arrows[event.key] && this.picked) {
        const [dx, dy] = arrows[event.key].map((d) => (d * (event.shiftKey ? 10 : 1)) / this.k);
        const { list, i } = this.picked, p = this[list][i];
        this.past = [...this.past.slice(-99), this.snapshot()];
        this[list] = this[list].map((q, j) => (j === i ? [p[0] + dx, p[1] + dy, this.k] : q));
        this.tellSoon();
      } else return;
      event.preventDefault();
    },
    snapshot() { return { marks: this.marks, outline: this.outline, holes: this.holes, closed: this.closed }; },
    restore(old) { Object.assign(this, old); this.picked = null; },
    undo() { if (this.past.length) { this.restore(this.past.pop()); this.past = [...this.past]; this.tell(); } },
    remove() {
      if (!this.picked) return;
      const { list, i } = this.picked;
      this.past = [...this.past, this.snapshot()];
      this[list] = this[list].filter((_, j) => j !== i);
      this.picked = null;
      this.tell();
    },
    clear() {
      this.past = [...this.past, this.snapshot()];
      Object.assign(this, { outline: [], closed: false, picked: null });
      this.tell();
    },
    scaleChanged() {
      if (!this.marks.length || this.marksFor === this.scale) return; // the latter after a reload
      this.past = [];
      this.marks = [];
      this.picked = null;
      this.tell();
    },
    take(points) { // a suggested outline; its points carry no enlargement, for no hand placed them
      this.past = [...this.past, this.snapshot()];
      Object.assign(this, { outline: points.map((p) => [p[0], p[1], null]), closed: true, picked: null });
      this.tell();
    },
    takeMarks(points, scale) { // found from the lines of a frame: placed by no hand either
      Object.assign(this, { marks: points.map((p) => [p[0], p[1], null]), marksFor: scale, past: [], picked: null });
      this.tell();
    },
    state() { return { marks: this.marks, outline: this.outline, holes: this.holes, closed: this.closed }; },
    store() { sessionStorage.setItem("pw-trace:" + this.keep, JSON.stringify({ ...this.state(), extra: this.extra })); },
    tell() { clearTimeout(this.timer); this.timer = null; this.store(); this.$emit("changed", this.state()); },
    tellSoon() { if (!this.timer) this.timer = setTimeout(() => this.tell(), 250); },
    forget() { sessionStorage.removeItem("pw-trace:" + this.keep); },
  },
};
