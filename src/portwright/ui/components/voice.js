// Reads back with a voice that lives on this device, and flashes the edge of the screen.
// Voices that would send the words elsewhere are never used.
export default {
  template: `
    <div class="voice">
      <div class="flash" :data-kind="kind" aria-hidden="true"></div>
      <button type="button" class="lamp wide" :aria-pressed="String(on)" @click="toggle">Read back: {{ on ? "on" : "off" }}</button>
      <label>Foot pedal sends
        <select v-model="pedal" @change="keep"><option v-for="p in pedals" :key="p[0]" :value="p[0]">{{ p[1] }}</option></select>
      </label>
      <span v-if="on && silent" class="small soft" role="status">No voice on this device: flash only</span>
    </div>`,
  data() {
    return {
      on: localStorage.getItem("pw-voice") === "on", silent: false, kind: "",
      pedal: localStorage.getItem("pw-pedal") || "Enter",
      pedals: [["Enter", "Enter"], [" ", "Space"], ["PageDown", "Page down"], ["PageUp", "Page up"], ["ArrowDown", "Arrow down"], ["F9", "F9"]],
    };
  },
  mounted() {
    this.told = (event) => this.tell(event.detail);
    window.addEventListener("pw-told", this.told);
    if (window.speechSynthesis) window.speechSynthesis.addEventListener?.("voiceschanged", this.look);
    this.look();
  },
  beforeUnmount() {
    window.removeEventListener("pw-told", this.told);
    window.speechSynthesis?.removeEventListener?.("voiceschanged", this.look);
    clearTimeout(this.timer);
  },
  methods: {
    voice() {
      let all = [];
      try { all = window.speechSynthesis ? window.speechSynthesis.getVoices() : []; } catch { all = []; }
      const own = all.filter((v) => v.localService);
      return own.find((v) => v.lang.startsWith("en") && v.default) || own.find((v) => v.lang.startsWith("en")) || null;
    },
    look() { this.silent = !this.voice(); },
    toggle() {
      this.on = !this.on;
      localStorage.setItem("pw-voice", this.on ? "on" : "off");
      this.look();
    },
    keep() { localStorage.setItem("pw-pedal", this.pedal); },
    tell({ kind, words }) {
      clearTimeout(this.timer);
      this.kind = kind;
      this.timer = setTimeout(() => { this.kind = ""; }, 700);
      if (navigator.vibrate && navigator.userActivation?.hasBeenActive) navigator.vibrate(kind === "good" ? 40 : [120, 60, 120]);
      if (!this.on || !words) return;
      const voice = this.voice();
      this.silent = !voice;
      if (!voice) return;
      const speech = new SpeechSynthesisUtterance(words);
      speech.voice = voice;
      speech.lang = voice.lang;
      speech.onerror = (event) => { if (event.error !== "canceled" && event.error !== "interrupted") this.silent = true; };
      window.speechSynthesis.cancel();
      window.speechSynthesis.speak(speech);
    },
  },
};
