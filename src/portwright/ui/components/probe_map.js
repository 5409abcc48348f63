// A section to touch: where the probe stands is where the finger was. Arrow keys move it as well.
export default {
  template: `
    <svg ref="sheet" class="probe-map" role="application" tabindex="0" :aria-label="label"
      :viewBox="'0 0 ' + (wide * k + 40) + ' ' + (high * k + 40)" font-size="17" fill="var(--ink)"
      style="width: 100%; max-width: 460px; height: auto; touch-action: none; display: block"
      @pointerdown="touch" @keydown="keys">
      <path :d="path" fill="var(--blue)" fill-opacity="0.1" stroke="var(--ink)" stroke-width="2.5" />
      <g v-for="m in marks" :key="m[0] + '/' + m[1]">
        <circle :cx="x(m[0])" :cy="y(m[1])" r="17" fill="var(--paper)" stroke="var(--line)" />
        <text :x="x(m[0])" :y="y(m[1]) + 6" text-anchor="middle">{{ m[2] }}</text>
      </g>
      <g v-if="at">
        <path :d="'M' + x(at[0]) + ' 20V' + (high * k + 20) + 'M20 ' + y(at[1]) + 'H' + (wide * k + 20)"
          stroke="var(--bronze)" stroke-width="1.5" stroke-dasharray="6 5" />
        <circle :cx="x(at[0])" :cy="y(at[1])" r="9" fill="none" stroke="var(--bronze)" stroke-width="4" />
      </g>
    </svg>`,
  props: { outline: Array, marks: Array, at: Array, label: String },
  emits: ["place"],
  computed: {
    wide() { return Math.max(...this.outline.map((p) => p[0])); },
    high() { return Math.max(...this.outline.map((p) => p[1])); },
    k() { return 400 / Math.max(this.wide, this.high); },
    path() { return "M" + this.outline.map((p) => this.x(p[0]) + " " + this.y(p[1])).join("L") + "Z"; },
  },
  methods: {
    x(v) { return (20 + v * this.k).toFixed(1); },
    y(v) { return 20 + (this.high - v) * this.k; },
    put(x, y) {
      const keep = (v, most) => Math.min(most, Math.max(0, v));
      this.$emit("place", [keep(x, this.wide), keep(y, this.high)]);
    },
    touch(e) {
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(this.$refs.sheet.getScreenCTM().inverse());
      this.put((p.x - 20) / this.k, this.high - (p.y - 20) / this.k);
    },
    keys(e) {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
      if (!way) return;
      e.preventDefault();
      const [x, y] = this.at || [this.wide / 2, this.high / 2], step = Math.max(this.wide, this.high) / 40;
      this.put(x + way[0] * step, y + way[1] * step);
    },
  },
};
