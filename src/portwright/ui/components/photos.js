// Takes or picks photos, makes them smaller in the browser (which also drops place and camera
// data), and sends them one by one.
const EDGE = 2048;

export default {
  template: `
    <div class="field">
      <label :for="name">{{ label }}</label>
      <input :id="name" ref="box" type="file" accept="image/*" multiple @change="send" />
      <span class="say" role="status">{{ say }}</span>
    </div>`,
  props: { label: String, address: String, token: String },
  emits: ["stored"],
  data() { return { say: "", name: "p" + Math.random().toString(36).slice(2, 9) }; },
  methods: {
    async send() {
      const files = [...this.$refs.box.files];
      let stored = 0;
      for (const file of files) {
        this.say = `Saving ${stored + 1} of ${files.length} …`;
        try {
          const body = await this.smaller(file);
          const address = `${this.address}&name=${encodeURIComponent(file.name)}`;
          const answer = await fetch(address, { method: "POST", body, headers: { "X-Portwright-Form": this.token } });
          if (!answer.ok) throw new Error(await answer.text());
          stored += 1;
        } catch (error) {
          this.say = `${file.name} was not saved: ${error.message}`;
          if (stored) this.$emit("stored", stored);
          return;
        }
      }
      this.say = `${stored} saved`;
      this.$refs.box.value = "";
      this.$emit("stored", stored);
    },
    async smaller(file) {
      let picture;
      try { picture = await createImageBitmap(file, { imageOrientation: "from-image" }); }
      catch { throw new Error("it is not a picture this browser can read."); }
      const share = Math.min(1, EDGE / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(picture.width * share);
      canvas.height = Math.round(picture.height * share);
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      return new Promise((done, fail) =>
        canvas.toBlob((blob) => (blob ? done(blob) : fail(new Error("it could not be made smaller."))), "image/jpeg", 0.86));
    },
  },
};
