// One engine cycle along runner and port: play it, or move through it with the slider.
const SECONDS = 10; // of one cycle
export default {
  template: `
    <figure class="chart waves">
      <div class="keys" role="group" aria-label="What is shown">
        <button v-for="(q, i) in quantities" :key="q.name" type="button" class="pick" :aria-pressed="String(i === kind)" @click="kind = i">{{ q.name }}</button>
      </div>
      <div class="plot" ref="plot" role="img" :aria-label="quantities[kind].spec.title + '. ' + said.join(' ')">
        <div ref="drawing" aria-hidden="true"></div>
      </div>
      <div class="readout" aria-live="off">{{ words }}</div>
      <div class="player">
        <button type="button" class="act-play" @click="playing ? stop() : play()">{{ playing ? "Pause" : "Play" }}</button>
        <input type="range" min="0" :max="angles.length - 1" step="1" v-model.number="at" aria-label="Crank angle"
          :aria-valuetext="words" @pointerdown="stop" @keydown="stop" />
      </div>
      <div class="keys">
        <span v-for="h in heads" :key="h.name" class="small"><svg width="34" height="12" aria-hidden="true"><line x1="1" x2="33" y1="6" y2="6"
          stroke-width="4" :stroke="tone(h)" :stroke-dasharray="dashes[h.dash]" /></svg> {{ h.name }}</span>
      </div>
      <figcaption><div v-for="line in said" :key="line">{{ line }}</div></figcaption>
    </figure>`,
  props: { quantities: Array, heads: Array, angles: Array, open: Array, marks: Array, said: Array },
  data() {
    return { kind: 0, at: Math.max(0, this.open.findIndex((o) => o)), playing: false, theme: document.documentElement.dataset.theme };
  },
  computed: {
    dashes() { return window.portwrightChart.dashes; },
    words() {
      const q = this.quantities[this.kind];
      const valve = this.open[this.at] ? `intake valve ${this.open[this.at]} open` : "intake valve shut";
      const each = this.heads.map((h, i) => `${h.name} ${q.values[i][this.at].at(-1).toFixed(q.decimals)}${q.unit}`);
      return `${this.angles[this.at]}° after firing dead centre, ${valve}. ${q.name} at the valve: ${each.join(", ")}.`;
    },
  },
  watch: { at: "draw", kind: "draw" },
  mounted() {
    this.retheme = () => { this.theme = document.documentElement.dataset.theme; this.draw(); };
    window.addEventListener("pw-theme", this.retheme);
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this.$refs.plot);
    this.draw();
  },
  beforeUnmount() {
    this.stop();
    window.removeEventListener("pw-theme", this.retheme);
    this.watcher.disconnect();
  },
  methods: {
    tone(h) { return window.portwrightChart.tone(h.tone, this.theme); },
    play() {
      const from = this.at, begun = performance.now(), count = this.angles.length;
      this.playing = true;
      const turn = (now) => {
        if (!this.playing) return;
        this.at = (from + Math.floor((Math.max(0, now - begun) / 1000 / SECONDS) * count)) % count;
        this.frame = requestAnimationFrame(turn);
      };
      this.frame = requestAnimationFrame(turn);
    },
    stop() {
      this.playing = false;
      cancelAnimationFrame(this.frame);
    },
    draw() {
      if (!this.$refs.drawing) return;
      const box = this.$refs.plot.getBoundingClientRect();
      const width = Math.max(240, Math.round(box.width)), height = Math.max(160, Math.round(box.height));
      const text = width < 560 ? 13 : 15, q = this.quantities[this.kind];
      const series = this.heads.map((h, i) => ({ ...h, y: q.values[i][this.at], points: false }));
      const spec = { ...q.spec, series };
      this.$refs.drawing.innerHTML = window.portwrightChart.draw(spec, { width, height, text, theme: this.theme });
      const svg = this.$refs.drawing.querySelector("svg"), L = window.portwrightChart.layout(spec, width, height, text);
      const add = (kind, look, words) => {
        const made = document.createElementNS("http://www.w3.org/2000/svg", kind);
        Object.entries(look).forEach(([k, v]) => made.setAttribute(k, v));
        if (words) made.textContent = words;
        svg.append(made);
      };
      this.marks.forEach((m, i) => {
        const x = L.px(m.x);
        add("line", { x1: x, x2: x, y1: L.box.top, y2: L.box.bottom, stroke: "currentColor", "stroke-width": 1.5, "stroke-dasharray": "2 4" });
        const side = i ? { x: x + 6, "text-anchor": "start" } : { x: x - 6, "text-anchor": "end" };
        add("text", { ...side, y: L.box.top + text, "font-size": text, fill: "currentColor" }, m.text);
      });
      const shut = !this.open[this.at];
      add("rect", { x: L.box.right, y: L.box.top, width: 7, height: L.box.bottom - L.box.top, fill: shut ? "currentColor" : "none", stroke: "currentColor", "stroke-width": 1.5, "stroke-dasharray": shut ? "" : "4 4" });
      add("text", { x: L.box.right - 6, y: L.box.bottom - text * 0.6, "text-anchor": "end", "font-size": text, fill: "currentColor" }, shut ? "valve shut" : "valve open");
    },
  },
};
