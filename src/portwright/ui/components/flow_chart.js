// Curves with bands: point or arrow through the lifts, switch curves off and on, save for print.
export default {
  template: `
    <figure class="chart" :style="{ '--chart-height': height }">
      <div class="plot" ref="plot" role="img" tabindex="0" :aria-label="spec.summary || spec.title"
        @pointermove="point" @pointerdown="point" @pointerleave="leave" @keydown="step">
        <div ref="drawing" aria-hidden="true"></div>
      </div>
      <div class="readout" :aria-live="stepped ? 'polite' : 'off'">{{ readout }}</div>
      <div class="keys">
        <button v-for="(s, i) in named" :key="s.name + i" type="button" :aria-pressed="String(!off[s.name])" @click="toggle(s.name)">
          <svg width="34" height="12" aria-hidden="true"><line x1="1" x2="33" y1="6" y2="6" stroke-width="4"
            :stroke="colour(s)" :stroke-dasharray="dash(s)" /></svg>{{ s.name }}
        </button>
        <template v-if="saving">
          <button type="button" class="save" @click="save('svg')">Save SVG</button>
          <button type="button" class="save" style="margin-left: 0" @click="save('png')">Save PNG</button>
        </template>
      </div>
    </figure>`,
  props: { spec: Object, height: String, saving: Boolean },
  data() { return { off: {}, at: null, stepped: false, readout: "", theme: document.documentElement.dataset.theme }; },
  computed: {
    shown() { return { ...this.spec, series: this.spec.series.map((s) => ({ ...s, hidden: !!this.off[s.name] })) }; },
    named() { return this.spec.series.filter((s) => s.name && !s.unlisted); },
    lifts() {
      const all = this.shown.series.filter((s) => !s.hidden && !s.quiet).flatMap((s) => s.x);
      return [...new Set(all.map((v) => +v.toFixed(6)))].sort((a, b) => a - b);
    },
  },
  watch: { shown: { handler() { this.$nextTick(this.draw); }, deep: true } },
  mounted() {
    this.retheme = () => { this.theme = document.documentElement.dataset.theme; this.draw(); };
    window.addEventListener("pw-theme", this.retheme);
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this.$refs.plot);
    this.draw();
  },
  beforeUnmount() {
    window.removeEventListener("pw-theme", this.retheme);
    this.watcher.disconnect();
  },
  methods: {
    colour(s) { return s.quiet ? "var(--ink-soft)" : window.portwrightChart.tone(s.tone, this.theme); },
    dash(s) { return window.portwrightChart.dashes[(s.dash || 0) % 8]; },
    toggle(name) { this.off = { ...this.off, [name]: !this.off[name] }; },
    save(kind) { window.portwrightChart.exportAs(kind, this.shown); },
    size() {
      const { width, height } = this.$refs.plot.getBoundingClientRect();
      return { width: Math.max(240, Math.round(width)), height: Math.max(160, Math.round(height)), text: width < 560 ? 13 : 15 };
    },
    draw() {
      if (!this.$refs.drawing) return;
      const size = this.size();
      this.$refs.drawing.innerHTML = window.portwrightChart.draw(this.shown, { ...size, theme: this.theme });
      this.geometry = window.portwrightChart.layout(this.shown, size.width, size.height, size.text);
      if (this.at !== null) this.mark();
    },
    point(event) {
      if (!this.geometry || !this.lifts.length) return;
      this.stepped = false; // a pointer passes many lifts: reading each out would be noise
      const x = event.clientX - this.$refs.plot.getBoundingClientRect().left;
      const gap = (v) => Math.abs(this.geometry.px(v) - x);
      this.at = this.lifts.reduce((best, v) => (gap(v) < gap(best) ? v : best));
      this.draw();
    },
    leave() { this.at = null; this.readout = ""; this.draw(); },
    step(event) {
      const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!way || !this.lifts.length) return;
      event.preventDefault();
      this.stepped = true;
      const here = this.lifts.indexOf(this.at);
      this.at = this.lifts[Math.min(this.lifts.length - 1, Math.max(0, here < 0 ? 0 : here + way))];
      this.draw();
    },
    mark() {
      const L = this.geometry, x = L.px(this.at);
      const svg = this.$refs.drawing.querySelector("svg");
      const place = document.createElementNS("http://www.w3.org/2000/svg", "line");
      const look = { x1: x, x2: x, y1: L.box.top, y2: L.box.bottom, stroke: "currentColor", "stroke-width": 1.5 };
      Object.entries(look).forEach(([k, v]) => place.setAttribute(k, v));
      svg.append(place);
      const parts = [];
      for (const s of this.shown.series) {
        if (s.hidden || s.quiet) continue;
        const i = s.x.findIndex((v) => Math.abs(v - this.at) < 1e-6);
        if (i < 0 || s.y[i] === null || s.y[i] === undefined) continue;
        const half = s.low && s.high && Number.isFinite(s.low[i]) ? ` ± ${((s.high[i] - s.low[i]) / 2).toFixed(this.spec.y.decimals)}` : "";
        parts.push(`${s.name} ${s.y[i].toFixed(this.spec.y.decimals)}${half}`);
      }
      this.readout = `${this.at.toFixed(this.spec.x.decimals)} ${this.spec.x.unit}: ${parts.join(", ")} ${this.spec.y.unit}`;
    },
  },
};
