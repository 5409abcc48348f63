// Earlier sweeps stay; only the sweep under way is sent again after each reading.
export default {
  template: `
    <figure class="live">
      <div class="plot" ref="plot" role="img" :aria-label="now.summary || base.title"><div ref="drawing"></div></div>
      <figcaption class="keys"><span v-for="s in named" :key="s.name" class="small">
        <svg width="34" height="12" aria-hidden="true"><line x1="1" x2="33" y1="6" y2="6" stroke-width="4" :stroke="colour(s)" :stroke-dasharray="dash(s)" /></svg>
        {{ s.name }}</span></figcaption>
    </figure>`,
  props: { base: Object, first: Object },
  data() { return { now: this.first || { series: [] }, theme: document.documentElement.dataset.theme }; },
  computed: {
    whole() { return { ...this.base, series: [...this.base.series, ...this.now.series] }; },
    named() { return this.whole.series.filter((s) => s.name && !s.unlisted); },
  },
  watch: { whole() { this.$nextTick(this.draw); } },
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
    current(now) { this.now = now; },
    colour(s) { return s.quiet ? "var(--ink-soft)" : window.portwrightChart.tone(s.tone, this.theme); },
    dash(s) { return window.portwrightChart.dashes[(s.dash || 0) % 8]; },
    draw() {
      if (!this.$refs.drawing || !window.portwrightChart) return;
      const { width, height } = this.$refs.plot.getBoundingClientRect();
      const size = { width: Math.max(240, Math.round(width)), height: Math.max(160, Math.round(height)), text: 14 };
      this.$refs.drawing.innerHTML = window.portwrightChart.draw(this.whole, { ...size, theme: this.theme });
    },
  },
};
