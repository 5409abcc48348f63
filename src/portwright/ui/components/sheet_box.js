// Picks a file and sends it as it is; the server says what it understood.
export default {
  template: `
    <div class="field">
      <label :for="name">{{ label }}</label>
      <input :id="name" ref="box" type="file" :accept="accept" @change="send" />
      <progress v-if="share !== null" max="1" :value="share" :aria-label="'Sending ' + file"></progress>
      <span class="say" role="status">{{ say }}</span>
    </div>`,
  props: { address: String, token: String, label: String, accept: String, most: Number },
  emits: ["sent"],
  data() { return { say: "", share: null, file: "", name: "t" + Math.random().toString(36).slice(2, 9) }; },
  methods: {
    async send() {
      const file = this.$refs.box.files[0];
      if (!file) return;
      this.file = file.name;
      this.share = null;
      const size = (bytes) => `${(bytes / 1048576).toFixed(bytes < 10485760 ? 1 : 0)} MB`;
      if (file.size > this.most) { // the server would cut it off and could not say why
        this.say = `${file.name} was not sent: it has ${size(file.size)}, the limit is ${size(this.most)}.`;
        return;
      }
      this.say = "Reading …";
      try {
        const key = await this.put(file, (share) => {
          this.share = share < 1 ? share : null;
          this.say = share < 1 ? `Sending ${size(file.size)} …` : "Reading …";
        });
        this.say = "";
        this.$emit("sent", key);
      } catch (error) {
        this.say = `${file.name} was not read: ${error.message}`;
      }
      this.share = null;
    },
    put(file, told) {
      return new Promise((done, failed) => {
        const ask = new XMLHttpRequest(); // fetch does not tell how much has gone
        ask.open("POST", `${this.address}?${new URLSearchParams({ name: file.name })}`);
        ask.setRequestHeader("X-Portwright-Form", this.token);
        ask.upload.onprogress = (event) => { if (event.lengthComputable) told(event.loaded / event.total); };
        ask.onload = () => (ask.status < 300 ? done(ask.responseText) : failed(new Error(ask.responseText)));
        ask.onerror = () => failed(new Error("the connection broke off; choose it again."));
        ask.send(file);
      });
    },
  },
};
