// One reading after the other.  Enter sends a number once; nothing more can be typed until the
// server says it is on disk.  What is typed but not acknowledged stays in this tab's own storage
// and is sent again only when a person asks for it, with the same token, so nothing doubles.
const WAIT = 5000;
const KEYS = ["7", "8", "9", "back", "4", "5", "6", "clear", "1", "2", "3", "enter", "0", "mark"];
const NAMES = { back: "⌫", clear: "C", enter: "Enter", mark: "." };
const SPOKEN = { back: "Delete one digit", clear: "Clear", enter: "Enter", mark: "Decimal mark" };

export default {
  template: `
    <section class="pad" :data-phase="phase" aria-label="Reading">
      <div class="call">
        <template v-if="entryLift"><span class="set">{{ correcting ? "Again at" : "Set lift" }}</span>
          <strong>{{ at.called }}</strong><span>{{ at.calledUnit }}</span></template>
        <strong v-else class="done">All lifts read</strong>
        <span class="count">{{ progress }}</span>
      </div>
      <label class="entry" :for="name"><span class="visually-hidden">Reading</span>
        <input :id="name" ref="box" class="digits" :data-long="text.length > 8 ? 2 : text.length > 5 ? 1 : 0" type="text" inputmode="none" autocomplete="off" spellcheck="false"
          :value="text" :readonly="phase !== 'typing' || !entryLift" :aria-describedby="name + 'u ' + name + 's'"
          @input="typed" @paste.stop />
        <span class="unit" :id="name + 'u'">{{ typedUnit || unit }}</span>
      </label>
      <div class="beside">
        <span v-if="beforeHere">{{ beforeName }} <b>{{ beforeHere.toFixed(decimals) }} {{ flowUnit }}</b></span>
        <span v-else class="soft">{{ beforeName }}</span>
        <span v-if="gain !== null" :class="['gain', gain >= 0 ? 'up' : 'down']"><b>{{ percent(gain) }}</b>
          <small v-if="half">&nbsp;± {{ (100 * half).toFixed(1) }} %</small></span>
      </div>
      <div v-if="ranges.length" class="ranges" role="group" aria-label="Range of the bench">
        <button v-for="r in ranges" :key="r" type="button" :aria-pressed="String(r === range)" @click="range = r">Range {{ r }}</button>
      </div>
      <p class="say" :id="name + 's'" role="status">{{ words }}</p>
      <div v-if="phase === 'asked'" class="question" role="alertdialog" :aria-label="answer.message">
        <p class="big">{{ answer.message }}</p><p>{{ answer.hint }}</p>
        <div class="two">
          <button type="button" class="key main" ref="retype" @click="retype('')">Type it again</button>
          <button type="button" class="key" @click="send(true)">Keep {{ text }}</button>
        </div>
      </div>
      <div v-else-if="phase === 'unsaved'" class="question lost" role="alertdialog" aria-label="Not saved">
        <p class="big">Not saved: {{ text }} {{ typedUnit }} at {{ entryLift }} {{ entryLiftUnit }}</p>
        <p>{{ linked ? "Connected again. It is saved only when you say so." : "Not connected. It is kept on this tablet." }}</p>
        <div class="two">
          <button type="button" class="key main" :disabled="!linked" @click="send(held.keep)">Save it now</button>
          <button type="button" class="key" @click="drop">Drop it</button>
        </div>
      </div>
      <div v-else class="keys">
        <button v-for="k in keys" :key="k" type="button" :class="['key', k]" :aria-label="spoken(k)"
          @pointerdown.prevent="press(k)" @keydown.enter.prevent.stop="press(k)" @keydown.space.prevent.stop="press(k)">{{ face(k) }}</button>
      </div>
    </section>`,
  props: {
    run: String, lift: String, liftUnit: String, called: String, calledUnit: String, unit: String, progress: String, correcting: Boolean,
    ranges: Array, firstRange: Number, picks: Number, before: Number, beforeName: String, half: Number,
    factor: Number, flowUnit: String, decimals: Number, stored: Array, answer: Object, comma: Boolean,
  },
  emits: ["commit", "undo"],
  data() {
    return {
      text: "", typedUnit: "", typedAt: null, phase: "typing", held: null, said: "", range: this.firstRange,
      linked: true, keys: KEYS, name: "r" + Math.random().toString(36).slice(2, 9),
    };
  },
  computed: {
    // A number belongs to the lift that was called when its first digit was typed, even if
    // another tablet moves the call on meanwhile.
    at() {
      if (this.held) return { called: this.held.lift, calledUnit: this.held.liftUnit, ...this.held };
      return this.typedAt || { lift: this.lift, liftUnit: this.liftUnit, called: this.called, calledUnit: this.calledUnit };
    },
    beforeHere() { return this.entryLift === this.lift && this.entryLiftUnit === this.liftUnit ? this.before : null; },
    entryLift() { return this.at.lift; },
    entryLiftUnit() { return this.at.liftUnit; },
    words() { return this.phase === "sending" ? "Saving …" : this.said; },
    number() {
      const plain = this.text.replace(",", ".");
      return /^\d*\.?\d+$|^\d+\.$/.test(plain) ? parseFloat(plain) : null;
    },
    gain() {
      if (!this.beforeHere || !this.factor || !this.number || (this.typedUnit && this.typedUnit !== this.unit)) return null;
      return (this.number * this.factor) / this.beforeHere - 1;
    },
  },
  watch: {
    answer(answer) { this.answered(answer); },
    firstRange(next) { if (!this.held && next) this.range = next; },
    picks() { if (!this.held) this.typedAt = null; }, // a person called another lift
    lift() { if (!this.held && this.phase === "typing" && !this.text) this.$nextTick(this.focus); },
  },
  mounted() {
    this.relink = () => { this.linked = window.portwright.linked(); };
    this.onkey = (event) => this.hardware(event);
    window.addEventListener("pw-link", this.relink);
    window.addEventListener("keydown", this.onkey, true);
    this.restore();
    this.focus();
  },
  beforeUnmount() {
    clearTimeout(this.timer);
    window.removeEventListener("pw-link", this.relink);
    window.removeEventListener("keydown", this.onkey, true);
  },
  methods: {
    face(k) { return k === "mark" ? (this.comma ? "," : ".") : NAMES[k] || k; },
    spoken(k) { return SPOKEN[k] || k; },
    percent(v) { return `${v < 0 ? "\u2212" : "+"}${Math.abs(100 * v).toFixed(1)} %`; },
    place() { return "pw:bench:" + this.run; },
    remember() {
      const draft = this.held || (this.text ? { text: this.text, unit: this.typedUnit, at: this.typedAt } : null);
      if (draft) sessionStorage.setItem(this.place(), JSON.stringify(draft));
      else sessionStorage.removeItem(this.place());
    },
    restore() {
      const kept = JSON.parse(sessionStorage.getItem(this.place()) || "null");
      if (!kept) return;
      this.text = kept.text;
      this.typedUnit = kept.unit;
      if (!kept.token) { this.typedAt = kept.at; return; } // typed, never entered: goes on where it was
      if (this.stored.some((s) => s[0] === kept.lift && s[1] === kept.liftUnit && s[2] === kept.text && s[3] === kept.unit)) {
        this.said = `${kept.text} ${kept.unit} at ${kept.lift} ${kept.liftUnit} was saved.`;
        this.clear();
        return;
      }
      this.held = kept;
      this.range = kept.range || this.range;
      this.phase = "unsaved";
    },
    typed(event) {
      this.put(event.target.value.replace(/[^\d.,/ ]/g, "").slice(0, 12));
      event.target.value = this.text;
    },
    put(text) {
      if (this.phase !== "typing" || !this.entryLift) return;
      if (!this.text || !this.typedUnit) this.typedUnit = this.unit;
      this.typedAt = text ? { ...this.at } : null;
      this.text = text;
      this.said = "";
      if (!text) this.typedUnit = "";
      this.remember();
    },
    press(key) {
      if (key === "enter") return this.enter();
      if (key === "clear") return this.put("");
      if (key === "back") return this.put(this.text.slice(0, -1));
      this.put((this.text + this.face(key)).slice(0, 12));
    },
    hardware(event) {
      const target = event.target;
      const ours = target === this.$refs.box;
      if (event.ctrlKey && event.key === "z" && this.phase === "typing" && !this.text) {
        event.preventDefault();
        this.$emit("undo");
        return;
      }
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const elsewhere = !ours && target.closest && target.closest("input, select, textarea, .q-dialog");
      if (elsewhere) return;
      const pedal = localStorage.getItem("pw-pedal") || "Enter";
      const onButton = !ours && target.closest && target.closest("button, a");
      if (event.key === pedal && pedal !== "Enter" && !(onButton && pedal === " ")) {
        event.preventDefault();
        this.enter();
        return;
      }
      if (event.key === "Enter" && !onButton) {
        event.preventDefault();
        this.enter();
      } else if (/^[\d.,]$/.test(event.key)) {
        if (this.phase === "asked") this.retype("");
        if (ours && this.phase === "typing") return; // the box takes it itself
        event.preventDefault();
        this.put((this.text + event.key).slice(0, 12));
        this.focus();
      } else if (event.key === "Escape" && this.phase === "typing") {
        this.put("");
      }
    },
    enter() {
      if (this.phase === "asked") return this.retype(""); // the pedal never keeps what is in doubt
      if (this.phase === "typing" && this.text.trim() && this.entryLift) this.send(false);
    },
    send(keep) {
      if (this.phase === "sending") return;
      const token = this.held ? this.held.token : Array.from(crypto.getRandomValues(new Uint32Array(4))).join("-");
      this.held = this.held || {
        token, text: this.text.trim(), unit: this.typedUnit || this.unit, lift: this.entryLift, liftUnit: this.entryLiftUnit,
        range: this.range || null,
      };
      this.held.keep = keep;
      this.remember();
      this.relink();
      if (!this.linked) { this.phase = "unsaved"; this.tell("fault", ""); return; }
      this.phase = "sending";
      this.said = "";
      this.sentAt = performance.now();
      this.$emit("commit", { ...this.held });
      clearTimeout(this.timer);
      this.timer = setTimeout(() => {
        if (this.phase === "sending") { this.phase = "unsaved"; this.tell("fault", ""); }
      }, WAIT);
    },
    answered(answer) {
      if (!this.held || answer.token !== this.held.token) return;
      clearTimeout(this.timer);
      window.portwrightTook = performance.now() - this.sentAt;
      if (answer.state === "saved" || answer.state === "aside") {
        this.said = answer.message;
        this.clear();
        this.tell(answer.state === "saved" ? "good" : "ask", answer.words);
        this.$nextTick(this.focus);
      } else if (answer.state === "asked") {
        this.phase = "asked";
        this.tell("ask", answer.words);
        this.$nextTick(() => this.$refs.retype && this.$refs.retype.focus());
      } else {
        const { text, unit } = this.held;
        this.typedAt = { ...this.at };
        this.held = null;
        this.phase = "typing";
        [this.text, this.typedUnit] = [text, unit];
        this.said = `${answer.message} ${answer.hint || ""}`;
        this.remember();
        this.tell("fault", "");
        this.$nextTick(this.focus);
      }
    },
    clear() {
      this.held = this.typedAt = null;
      this.text = this.typedUnit = "";
      this.phase = "typing";
      this.remember();
    },
    retype(text) {
      this.clear();
      if (text) this.put(text);
      this.$nextTick(this.focus);
    },
    drop() {
      this.said = `${this.held.text} ${this.held.unit} was dropped.`;
      this.clear();
      this.$nextTick(this.focus);
    },
    tell(kind, words) { window.dispatchEvent(new CustomEvent("pw-told", { detail: { kind, words } })); },
    focus() { if (this.$refs.box) this.$refs.box.focus({ preventScroll: true }); },
  },
};
