// Reads a text aloud with a voice that lives on this device; never one that sends it elsewhere.
export default {
  template: `
    <div class="row-wrap">
      <button type="button" class="lamp wide" :aria-pressed="String(talking)" @click="press">{{ talking ? "Stop" : "Listen" }}</button>
      <span class="small soft" role="status">{{ silent ? "No voice for this language on this device" : "" }}</span>
    </div>`,
  props: { words: String, language: String },
  data() { return { talking: false, silent: false }; },
  beforeUnmount() { window.speechSynthesis?.cancel(); },
  methods: {
    voice() {
      let all = [];
      try { all = window.speechSynthesis ? window.speechSynthesis.getVoices() : []; } catch { all = []; }
      const own = all.filter((v) => v.localService && v.lang.toLowerCase().startsWith(this.language));
      return own.find((v) => v.default) || own[0] || null;
    },
    press() {
      if (this.talking) { window.speechSynthesis.cancel(); this.talking = false; return; }
      const voice = this.voice();
      this.silent = !voice;
      if (!voice) return;
      // sentence by sentence: some browsers stop a long text after a quarter of a minute
      const sentences = this.words.match(/[^.!?;]+[.!?;]*/g) || [];
      window.speechSynthesis.cancel();
      this.talking = true;
      sentences.forEach((sentence, k) => {
        const speech = new SpeechSynthesisUtterance(sentence.trim());
        speech.voice = voice;
        speech.lang = voice.lang;
        speech.rate = 0.95;
        speech.onend = () => { if (k === sentences.length - 1) this.talking = false; };
        speech.onerror = (event) => {
          if (event.error !== "canceled" && event.error !== "interrupted") { this.silent = true; this.talking = false; }
        };
        window.speechSynthesis.speak(speech);
      });
    },
  },
};
