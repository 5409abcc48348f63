// Takes or picks photos and sends them one by one as the camera made them; what the shop file does
// not keep (other kinds of files, very large ones) is sent as a smaller JPEG.
const EDGE = 4096;
const LARGEST = 20e6;
const KEPT = ["image/jpeg", "image/png"];

export default {
  template: `
    <div class="fields">
      <div class="field"><label :for="name + 'p'">Shows</label>
        <select :id="name + 'p'" v-model="subject"><option v-for="o in subjects" :key="o[0]" :value="o[0]">{{ o[1] }}</option></select></div>
      <div class="field"><label :for="name + 's'">At</label>
        <select :id="name + 's'" v-model="stage"><option v-for="o in stages" :key="o[0]" :value="o[0]">{{ o[1] }}</option></select></div>
      <div class="field"><label :for="name + 'c'">Caption</label><input :id="name + 'c'" v-model="caption" maxlength="200" /></div>
      <div class="field"><label :for="name + 't'">Take a photo</label>
        <input :id="name + 't'" ref="camera" type="file" accept="image/*" capture="environment" @change="send" /></div>
      <div class="field">
        <label :for="name">Add photos</label>
        <input :id="name" ref="box" type="file" accept="image/*" multiple @change="send" />
        <span class="say" role="status">{{ say }}</span>
      </div>
    </div>`,
  props: { address: String, job: String, token: String, subjects: Array, stages: Array, newest: String },
  emits: ["stored"],
  data() { return { say: "", caption: "", subject: this.subjects[0][0], stage: this.newest, name: "p" + Math.random().toString(36).slice(2, 9) }; },
  methods: {
    async send(event) {
      const files = [...event.target.files];
      let stored = 0;
      for (const file of files) {
        this.say = `Saving ${stored + 1} of ${files.length} …`;
        try {
          const body = KEPT.includes(file.type) && file.size < LARGEST ? file : await this.smaller(file);
          const about = new URLSearchParams({ job: this.job, subject: this.subject, stage: this.stage, name: file.name, caption: this.caption });
          const answer = await fetch(`${this.address}?${about}`, { method: "POST", body, headers: { "X-Portwright-Form": this.token } });
          if (!answer.ok) throw new Error(await answer.text());
          stored += 1;
        } catch (error) {
          this.say = `${file.name} was not saved: ${error.message}`;
          if (stored) this.$emit("stored", stored);
          return;
        }
      }
      this.say = `${stored} saved`;
      event.target.value = "";
      this.$emit("stored", stored);
    },
    async smaller(file) {
      let picture;
      try { picture = await createImageBitmap(file, { imageOrientation: "from-image" }); }
      catch { throw new Error("it is not a picture this browser can read. Save a scan as JPEG or PNG."); }
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
