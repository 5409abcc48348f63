// Big live numbers.  Frames come twenty times a second; each is drawn when the browser draws next,
// and every tenth is answered, so that the other side sends no more than is looked at.
const ANSWER_EVERY = 10;

export default {
  template: `
    <section class="live-now" :data-look="frame.look" aria-label="Live readings">
      <p class="live-step" role="status" aria-live="polite"><strong>{{ frame.step }}</strong> <span>{{ frame.words }}</span></p>
      <dl class="live-numbers">
        <div class="live-lift"><dt>Lift</dt><dd><b ref="lift">{{ frame.lift }}</b> <span>{{ lengthUnit }}</span></dd></div>
        <div class="live-flow"><dt>Flow at {{ flowAt }}</dt><dd><b ref="flow">{{ frame.flow }}</b> <span>{{ flowUnit }}</span></dd></div>
        <div><dt>Effective area</dt><dd><b>{{ frame.area }}</b> <span>{{ areaUnit }}</span></dd></div>
        <div><dt>Test pressure</dt><dd><b>{{ frame.pressure }}</b> <span>{{ pressureUnit }}</span></dd></div>
        <div><dt>Waited</dt><dd><b>{{ frame.waited }}</b> <span>s</span></dd></div>
        <div><dt>Known to ±</dt><dd><b>{{ frame.known }}</b> <span>%</span></dd></div>
      </dl>
      <label v-for="name in typing" :key="name" class="live-typing">{{ name }} types here
        <input type="text" autocomplete="off" spellcheck="false" @keydown.enter.prevent="typed(name, $event.target)" />
      </label>
    </section>`,
  props: { lengthUnit: String, flowUnit: String, flowAt: String, areaUnit: String, pressureUnit: String, typing: Array },
  emits: ["seen", "pedal", "typed"],
  data() {
    return { frame: { step: "waiting for the instruments", words: "", look: "", lift: "–", flow: "–", area: "–", pressure: "–", waited: "–", known: "–" } };
  },
  mounted() {
    this.counted = window.portwrightLive = { received: 0, drawn: 0, newest: 0, shown: 0, missing: 0 };
    this.onkey = (event) => this.pedal(event);
    window.addEventListener("keydown", this.onkey);
  },
  beforeUnmount() {
    window.removeEventListener("keydown", this.onkey);
    cancelAnimationFrame(this.asked);
  },
  methods: {
    now(number, frame) {
      const c = this.counted;
      if (c.newest && number > c.newest + 1) c.missing += number - c.newest - 1;
      c.received += 1;
      c.newest = number;
      this.next = frame;
      if (number % ANSWER_EVERY === 0) this.$emit("seen", number);
      if (this.asked) return;
      this.asked = requestAnimationFrame(() => {
        this.asked = 0;
        c.drawn += 1;
        c.shown = c.newest;
        this.frame = this.next;
      });
    },
    typed(name, box) {
      if (box.value.trim()) this.$emit("typed", name, box.value);
      box.value = "";
    },
    tell(kind, words) { window.dispatchEvent(new CustomEvent("pw-told", { detail: { kind, words } })); },
    pedal(event) {
      if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
      if (event.target.closest && event.target.closest("input, select, textarea, button, a, .q-dialog")) return;
      if (event.key !== (localStorage.getItem("pw-pedal") || "Enter")) return;
      event.preventDefault();
      this.$emit("pedal");
    },
  },
};
