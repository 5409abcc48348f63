// Picks a file and sends it as it is; the server says what it understood.
export default {
  template: `
    <div class="field">
      <label :for="name">{{ label }}</label>
      <input :id="name" ref="box" type="file" :accept="accept" @change="send" />
      <span class="say" role="status">{{ say }}</span>
    </div>`,
  props: { address: String, token: String, label: String, accept: String },
  emits: ["sent"],
  data() { return { say: "", name: "t" + Math.random().toString(36).slice(2, 9) }; },
  methods: {
    async send() {
      const file = this.$refs.box.files[0];
      if (!file) return;
      this.say = "Reading …";
      try {
        const about = new URLSearchParams({ name: file.name });
        const answer = await fetch(`${this.address}?${about}`, { method: "POST", body: file, headers: { "X-Portwright-Form": this.token } });
        if (!answer.ok) throw new Error(await answer.text());
        this.say = "";
        this.$emit("sent", await answer.text());
      } catch (error) {
        this.say = `${file.name} was not read: ${error.message}`;
      }
    },
  },
};
