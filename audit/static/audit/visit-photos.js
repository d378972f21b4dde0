// Photos of a visit: kept on this device as they are chosen, made smaller, then sent, in front of the record of their
// visit. The words that say what one shows may be written before it is chosen or after.
self.VisitPhotos = (() => {
  "use strict";
  const SIDE = 1600; // pixels
  const PATIENCE = 2000; // milliseconds that a page waits for a smaller one before it is left
  const LATER = new Set(["unreachable", "late", "busy", "held"]);
  const store = self.OutboxStore;

  async function smaller(file) {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    return new Promise((resolve) => canvas.toBlob((blob) => resolve(blob || file), "image/jpeg", 0.82));
  }

  const reasonIn = (html) => {
    const found = new DOMParser().parseFromString(html || "", "text/html").querySelectorAll(".problems li");
    return [...found].map((each) => each.textContent.trim()).join(" ");
  };

  const named = (small) => new File([small], "photo.jpg", { type: small.type });
  const withField = (item, name, value) => ({ ...item, fields: item.fields.map((pair) => (pair[0] === name ? [name, value] : pair)) });

  // What waits is made smaller in its place, whoever put it there: a page may have been left before it was done.
  async function shrink(id, file) {
    let small = file;
    try { small = named(await smaller(file)); } catch { /* the server says what is wrong with it */ }
    await store.change(id, (item) => ({ ...withField(item, "photo", small), large: false }));
    return small;
  }

  async function shrinkWaiting() {
    for (const item of await store.itemsOf(self.Outbox.account)) {
      if (item.large) await shrink(item.id, new Map(item.fields).get("photo"));
    }
  }

  // ---------------------------------------------------------------- what is told

  // What to tell the person, and whether it is kept; `id` is its number in the queue.
  async function told({ id, word, said }) {
    if (word === "recorded") return { said: "The photo is kept on the server.", kept: true };
    if (LATER.has(word)) return { said: "The photo is kept on this device and sent when there is a signal.", kept: true };
    if (word === "signed-out") return { said: "The photo is kept on this device and sent when you sign in again.", kept: true };
    if (word === "full") return { said: `${reasonIn(said)} It is kept on this device, and sent by itself then.`, kept: true };
    if (word !== "refused") return { said: "The photo is kept on this device, and needs a look under “Waiting to be sent”.", kept: true };
    await store.remove(id); // seen and told now: it holds up nothing
    return { said: reasonIn(said) || "The photo was not taken. Take it again.", kept: false };
  }

  // ---------------------------------------------------------------- one photo

  // `more` are further fields to send with it. `stored` resolves, with whether it is so, once it is on this device;
  // `answer` with what to tell the person.
  function take(file, { address, caption, ref, label, more }) {
    const key = self.crypto.randomUUID();
    const about = { label, address, group: ref, key, shown: caption ? [["What it shows", caption]] : [] };
    const fields = (photo, words) => [["photo", photo], ["photo_caption", words], ["photo_key", key], ...more];
    const photo = { caption, file: named(file), id: 0 };

    photo.stored = self.Outbox.keep({ ...about, large: true, fields: fields(photo.file, caption) }).then(
      (id) => { photo.id = id; return true; },
      () => false,
    );
    photo.small = photo.stored.then(async (isThere) => {
      if (isThere) photo.file = await shrink(photo.id, photo.file);
    }).catch(() => {});
    photo.answer = photo.small.then(async () => {
      if (!photo.id) return { said: "This device has no room to keep the photo. Take it again with a signal.", kept: false };
      return told(await self.Outbox.send(photo.id));
    });

    // Other words for it: where it waits, or once more under its key where it is sent already.
    photo.rename = async (words) => {
      if (words === photo.caption || !(await photo.stored)) return;
      photo.caption = words;
      const anew = (item) => ({
        ...withField(item, "photo_caption", words), shown: [["What it shows", words]], label: about.label,
        writtenAt: new Date().toISOString(),
      });
      if (await store.change(photo.id, anew)) return;
      photo.id = await self.Outbox.keep({ ...about, shown: [["What it shows", words]], fields: fields(photo.file, words) });
      self.Outbox.send(photo.id).catch(() => {});
    };

    // Before the page is left.
    photo.settled = async () => {
      await photo.stored;
      await Promise.race([photo.small, new Promise((go) => setTimeout(go, PATIENCE))]);
    };
    return photo;
  }

  document.addEventListener("outbox:ready", () => shrinkWaiting().then(() => self.Outbox.sendAll()).catch(() => {}));

  // ---------------------------------------------------------------- the photos of a page

  // `about()` is what each is sent with, at the time it is chosen; `say` tells the person.
  function ofPage(form, { about, say }) {
    const box = form.querySelector("[name=photo_caption]");
    const input = form.querySelector("[name=photo]");
    const taken = [];
    let open = null; // chosen before its words were written: what is written next is about it

    const written = () => box?.value.trim() || "";

    async function named() {
      const words = written();
      const of = open || taken.at(-1);
      if (!words || !of) return;
      if (!open) box.value = ""; // a second text with no photo of its own stays with the last one
      await of.rename(open ? words : [of.caption, words].filter(Boolean).join("; "));
      of.show();
    }

    async function chosen() {
      const file = input.files[0];
      if (!file) return;
      const before = open && named();
      const caption = open ? "" : written();
      box.value = "";
      const { title, ...rest } = about(caption);
      const photo = take(file, { ...rest, caption, label: `Photo: ${caption || title}` });
      const line = document.createElement("p");
      photo.show = () => { line.textContent = `Photo kept: ${photo.caption || title}`; };
      open = caption ? null : photo;
      taken.push(photo);
      input.value = "";
      say("The photo is being kept …");
      await before;
      if (await photo.stored) {
        photo.show();
        input.closest("details").append(line);
        say("The photo is kept on this device. It is being sent …");
      }
      const { said, kept } = await photo.answer;
      say(said);
      if (kept) return;
      line.remove();
      taken.splice(taken.indexOf(photo), 1);
      if (open === photo) open = null;
      if (photo.caption && !written()) box.value = photo.caption;
    }

    input?.addEventListener("change", chosen);
    box?.addEventListener("change", () => { if (open) named(); });
    box?.addEventListener("input", () => {
      if (!open) return;
      const line = [...input.closest("details").querySelectorAll("p")].at(-1);
      if (line?.textContent.startsWith("Photo kept:") && written()) line.textContent = `Photo kept: ${written()}`;
    });

    // Before the page is left: all is on this device, with its words.
    async function settled() {
      await named();
      await Promise.all(taken.map((photo) => photo.settled()));
    }

    return { settled };
  }

  return { ofPage };
})();
