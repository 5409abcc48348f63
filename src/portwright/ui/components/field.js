// A labelled line, paragraph or choice; the native element, so tablets bring their own picker.
export default {
  template: `
    <div class="field">
      <label :for="name">{{ label }}</label>
      <select v-if="kind === 'choice'" :id="name" ref="box" v-model="text" @change="tell">
        <option v-for="o in options" :key="o[0]" :value="o[0]">{{ o[1] }}</option>
      </select>
      <textarea v-else-if="kind === 'paragraph'" :id="name" ref="box" v-model="text" @input="tell"></textarea>
      <template v-else>
        <input :id="name" ref="box" :type="kind === 'number' ? 'text' : kind" :inputmode="kind === 'number' ? 'decimal' : null" v-model="text" autocomplete="off" :list="options.length ? name + 'l' : null"
          @input="tell" @keydown.enter="$emit('enter', text)" />
        <datalist v-if="options.length" :id="name + 'l'"><option v-for="o in options" :key="o[0]" :value="o[0]">{{ o[1] }}</option></datalist>
      </template>
      <span v-if="hint" class="hint">{{ hint }}</span>
    </div>`,
  props: { label: String, kind: String, value: String, options: Array, hint: String, stamp: Number },
  emits: ["text", "enter"],
  data() { return { text: this.value || "", name: "f" + Math.random().toString(36).slice(2, 9) }; },
  watch: {
    value(next) { this.text = next || ""; },
    // what was typed never comes back as a value, so clearing a box may change no value at all
    stamp() { this.text = this.value || ""; },
  },
  methods: { tell() { this.$emit("text", this.text); } },
};
