// The lifts of a sweep as tiles: what was read, what it gained, which one is next.
export default {
  template: `
    <ol class="lifts" aria-label="Lifts of this sweep">
      <li v-for="t in tiles" :key="t.key">
        <button type="button" :data-state="t.state" :aria-current="t.state === 'next' ? 'step' : null" :aria-label="spoken(t)" @click="$emit('pick', t.key)">
          <span class="at">{{ t.lift }}</span><span class="read">{{ t.value || "–" }}</span>
          <span class="gain">{{ t.gain }}</span>
        </button>
      </li>
    </ol>`,
  props: { tiles: Array, liftUnit: String, unit: String },
  emits: ["pick"],
  methods: {
    spoken(t) {
      const what = t.value ? `${t.value} ${this.unit}${t.gain ? ", " + t.gain : ""}` : t.state === "next" ? "next" : "not read";
      return `${t.lift} ${this.liftUnit}: ${what}`;
    },
  },
};
