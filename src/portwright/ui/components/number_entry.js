// One number as typed, with the unit it was typed in.  Nothing counts as saved until the server
// says so; what is typed but not acknowledged survives a reload in the tab's own storage, in red.
const WAIT = 4000;

export default {
  template: `
    <div class="field" :class="{ big }" :data-state="shown">
      <label :for="name">{{ label }}</label>
      <div class="box">
        <input ref="box" :id="name" type="text" inputmode="decimal" autocomplete="off" spellcheck="false"
          enterkeyhint="next" v-model="text" :aria-describedby="spoken"
          :aria-invalid="shown === 'refused' || shown === 'unsaved'" :disabled="disabled"
          @input="typed" @change="commit" @keydown.enter.prevent="enter" />
        <span v-if="sign" class="unit" :id="name + '-unit'">{{ sign }}</span>
      </div>
      <span v-if="hint" class="hint" :id="name + '-hint'">{{ hint }}</span>
      <span class="say" :id="name + '-say'" role="status">{{ words }}</span>
    </div>`,
  props: {
    label: String, unit: String, value: String, hint: String, keep: String, big: Boolean,
    disabled: Boolean, state: String, say: String, answered: Number,
  },
  emits: ["commit"],
  data() {
    return {
      text: this.value || "", typedUnit: this.unit, sent: this.answered || 0,
      dirty: false, // holds something the server has not accepted
      edited: false, // changed since it was last sent
      late: false, // sent, no answer in time
      name: "n" + Math.random().toString(36).slice(2, 9),
    };
  },
  computed: {
    // as people write it; a ratio has none
    sign() { return ((this.dirty ? this.typedUnit : this.unit) || "").replace(/^-$/, "").replace(/m2$|in2$/, (u) => u[0] === "m" ? "m²" : "in²"); },
    // unit and hint are read out with the label, as the eye takes them in
    spoken() { return [this.sign && "-unit", this.hint && "-hint", "-say"].filter(Boolean).map((part) => this.name + part).join(" "); },
    waiting() { return this.sent > (this.answered || 0); },
    shown() {
      if (this.late) return "unsaved";
      if (this.waiting) return "waiting";
      return this.edited ? "typing" : this.state;
    },
    words() {
      if (this.late) return "Not saved yet. Press Enter to save.";
      if (this.waiting) return "Saving …";
      return this.edited ? "" : this.say;
    },
  },
  watch: {
    value(next) { if (!this.dirty) this.text = next || ""; },
    answered() { if (!this.waiting) this.settle(); },
  },
  mounted() {
    const kept = this.keep && sessionStorage.getItem("pw:" + this.keep);
    if (!kept) return;
    [this.typedUnit, this.text] = JSON.parse(kept);
    this.dirty = this.late = true;
  },
  beforeUnmount() { clearTimeout(this.timer); },
  methods: {
    typed() {
      if (!this.dirty) this.typedUnit = this.unit;
      this.dirty = this.edited = true;
      this.late = false;
      if (this.keep) sessionStorage.setItem("pw:" + this.keep, JSON.stringify([this.typedUnit, this.text]));
    },
    commit() {
      if (this.waiting || !(this.edited || this.late)) return;
      const text = this.text.trim();
      if (!text) { this.drop(); return; }
      this.edited = this.late = false;
      this.sent = (this.answered || 0) + 1;
      this.$emit("commit", { text, unit: this.typedUnit, number: this.sent });
      clearTimeout(this.timer);
      this.timer = setTimeout(() => {
        if (this.waiting) { this.late = true; this.sent = this.answered || 0; }
      }, WAIT);
    },
    enter() {
      this.commit();
      const boxes = [...document.querySelectorAll(".field .box input:not([disabled])")];
      const next = boxes[boxes.indexOf(this.$refs.box) + 1] || this.$refs.box;
      next.focus();
      next.select();
    },
    settle() {
      clearTimeout(this.timer);
      this.late = false;
      if (this.state !== "refused" && !this.edited) this.drop();
    },
    drop() {
      this.dirty = this.edited = this.late = false;
      this.text = this.value || "";
      if (this.keep) sessionStorage.removeItem("pw:" + this.keep);
    },
    focus() { this.$refs.box.focus(); this.$refs.box.select(); },
  },
};
