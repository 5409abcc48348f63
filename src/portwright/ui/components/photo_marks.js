// Arrows, rings and words on a photo, by finger, pen, mouse or keyboard.  The photo stays as it is.
export default {
  template: `
    <div class="stack">
      <div class="row-wrap" role="group" aria-label="Mark with">
        <button v-for="t in tools" :key="t[0]" type="button" class="lamp wide" :aria-pressed="String(tool === t[0])" @click="tool = t[0]">{{ t[1] }}</button>
        <button type="button" class="lamp wide" :disabled="!marks.length" @click="undo">Take the last off</button>
      </div>
      <div v-if="tool === 'words'" class="field"><label :for="name">Words</label><input :id="name" v-model="words" maxlength="80" /></div>
      <div class="marking" ref="view" tabindex="0" role="application" :aria-label="said"
        @pointerdown.prevent="down" @pointermove="move" @pointerup="up" @pointercancel="act = null" @keydown="key">
        <img :src="address" alt="" draggable="false" @load="loaded" />
        <svg :viewBox="'0 0 1000 ' + high" preserveAspectRatio="none" aria-hidden="true">
          <g v-for="(m, i) in shown" :key="i">
            <g v-for="look in ['halo', 'line']" :key="look" :class="look">
              <ellipse v-if="m.kind === 'ring'" :cx="500 * (m.x + m.x2)" :cy="high / 2 * (m.y + m.y2)" :rx="500 * Math.abs(m.x2 - m.x)" :ry="high / 2 * Math.abs(m.y2 - m.y)" />
              <path v-else-if="m.kind === 'arrow'" :d="arrow(m)" />
              <text v-else :x="1000 * m.x" :y="high * m.y + 36">{{ m.words }}</text>
            </g>
          </g>
          <path v-if="at" class="line" :d="'M' + (1000 * at.x - 20) + ' ' + high * at.y + 'h40M' + 1000 * at.x + ' ' + (high * at.y - 20) + 'v40'" />
        </svg>
      </div>
      <p class="small" role="status">{{ said }}</p>
    </div>`,
  props: { address: String, start: Array },
  emits: ["marked"],
  data() {
    return {
      marks: [...this.start], tool: "arrow", words: "", high: 750, act: null, at: null, from: null,
      tools: [["arrow", "Arrow"], ["ring", "Ring"], ["words", "Words"]], name: "w" + Math.random().toString(36).slice(2, 9),
    };
  },
  computed: {
    shown() { return this.act ? [...this.marks, this.act] : this.marks; },
    said() {
      const how = { arrow: "Drag from the words to the place", ring: "Drag around the place", words: "Type the words, then touch where they begin" }[this.tool];
      return `${how}. By keyboard: arrow keys move, Enter sets. ${this.marks.length} on this photo.`;
    },
  },
  methods: {
    loaded(event) { this.high = 1000 * event.target.naturalHeight / event.target.naturalWidth; },
    place(event) {
      const box = this.$refs.view.getBoundingClientRect();
      const part = (v) => Math.min(1, Math.max(0, v));
      return { x: part((event.clientX - box.left) / box.width), y: part((event.clientY - box.top) / box.height) };
    },
    arrow(m) {
      const x = 1000 * m.x, y = this.high * m.y, a = 1000 * m.x2, b = this.high * m.y2, w = Math.atan2(b - y, a - x);
      const wing = (s) => `M${a} ${b}L${a - 34 * Math.cos(w + s)} ${b - 34 * Math.sin(w + s)}`;
      return `M${x} ${y}L${a} ${b}${wing(0.45)}${wing(-0.45)}`;
    },
    down(event) {
      this.$refs.view.focus();
      this.$refs.view.setPointerCapture(event.pointerId);
      const p = this.place(event);
      if (this.tool === "words") { this.put({ kind: "words", ...p, x2: p.x, y2: p.y, words: this.words }); return; }
      this.act = { kind: this.tool, ...p, x2: p.x, y2: p.y, words: "" };
    },
    move(event) { if (this.act) { const p = this.place(event); this.act = { ...this.act, x2: p.x, y2: p.y }; } },
    up() { const made = this.act; this.act = null; if (made) this.put(made); },
    key(event) {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (step) {
        event.preventDefault();
        const p = this.at || { x: 0.5, y: 0.5 };
        this.at = { x: Math.min(1, Math.max(0, p.x + step[0] * 0.02)), y: Math.min(1, Math.max(0, p.y + step[1] * 0.02)) };
        if (this.from) this.act = { kind: this.tool, ...this.from, x2: this.at.x, y2: this.at.y, words: "" };
      } else if (event.key === "Enter" && this.at) {
        event.preventDefault();
        if (this.tool === "words") this.put({ kind: "words", ...this.at, x2: this.at.x, y2: this.at.y, words: this.words });
        else if (this.from) { this.from = null; this.up(); }
        else this.from = this.at;
      } else if (event.key === "Escape") { this.from = this.act = this.at = null; }
    },
    put(mark) {
      if (mark.kind === "words" ? !mark.words.trim() : Math.hypot(mark.x2 - mark.x, mark.y2 - mark.y) < 0.01) return;
      this.marks = [...this.marks, mark];
      this.$emit("marked", this.marks);
    },
    undo() { this.marks = this.marks.slice(0, -1); this.$emit("marked", this.marks); },
  },
};
