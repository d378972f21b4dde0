// The camera: a window over the page that ends with the text of a code, or with nothing. Everything stays on the device:
// the browser's own detector where there is one, else the reader kept in vendor/, in a worker of its own.
(() => {
  "use strict";
  const FORMATS = ["data_matrix", "qr_code", "code_128"];
  const EVERY = 180; // ms between two looks at the picture
  let reader = null;
  let number = 0;

  const make = (tag, text, attributes) => {
    const node = document.createElement(tag);
    if (text) node.textContent = text;
    for (const [name, value] of Object.entries(attributes || {})) node.setAttribute(name, value);
    return node;
  };

  const ownDetector = async () => {
    if (!("BarcodeDetector" in window)) return null;
    const known = await window.BarcodeDetector.getSupportedFormats();
    return FORMATS.every((f) => known.includes(f)) ? new window.BarcodeDetector({ formats: FORMATS }) : null;
  };

  const workerFor = (paths) => {
    const worker = new Worker(paths.worker);
    worker.postMessage({ reader: paths.reader, wasm: paths.wasm });
    const waiting = new Map();
    worker.addEventListener("message", ({ data }) => {
      const settle = waiting.get(data.id);
      waiting.delete(data.id);
      if (settle) data.problem ? settle.reject(new Error(data.problem)) : settle.resolve(data.text);
    });
    worker.addEventListener("error", () => {
      for (const settle of waiting.values()) settle.reject(new Error("the reader could not be loaded"));
      waiting.clear();
      reader = null;
    });
    return (image) => new Promise((resolve, reject) => {
      number += 1;
      waiting.set(number, { resolve, reject });
      worker.postMessage({ id: number, image }, [image.data.buffer]);
    });
  };

  const pixels = (source, width, height) => {
    const canvas = make("canvas");
    canvas.width = width;
    canvas.height = height;
    const context = canvas.getContext("2d", { willReadFrequently: true });
    context.drawImage(source, 0, 0, width, height);
    return context.getImageData(0, 0, width, height);
  };

  // The text of a code in a picture or a frame, "" when there is none.
  const look = async (source, width, height, paths) => {
    if (reader === null) {
      const detector = await ownDetector();
      const worker = detector ? null : workerFor(paths);
      reader = detector
        ? async (from) => ((await detector.detect(from))[0] || { rawValue: "" }).rawValue
        : (from, w, h) => worker(pixels(from, w, h));
    }
    return reader(source, width, height);
  };

  const LARGEST = 2000; // pixels: larger pictures take long and are read no better
  const ofPicture = async (file, paths) => {
    const bitmap = await createImageBitmap(file);
    const by = Math.min(1, LARGEST / Math.max(bitmap.width, bitmap.height));
    return look(bitmap, Math.round(bitmap.width * by), Math.round(bitmap.height * by), paths);
  };

  const window_ = () => {
    const dialog = make("dialog", "", { class: "scan-window", "aria-labelledby": "scan-window-title" });
    const said = make("p", "Starting the camera …", { role: "status", class: "scan-line" });
    const video = make("video", "", { playsinline: "", muted: "", "aria-label": "What the camera sees" });
    const label = make("label", "Use a picture instead ", { class: "scan-picture" });
    const picture = make("input", "", { type: "file", accept: "image/*", name: "scan-picture" });
    label.append(picture);
    const close = make("button", "Close", { type: "button", class: "button button--quiet" });
    dialog.append(make("h2", "Scan a code", { id: "scan-window-title" }), said, video, label, close);
    document.body.append(dialog);
    return { dialog, said, video, picture, close };
  };

  const NO_CAMERA = {
    NotAllowedError: "The camera may not be used by this page. Allow it in the browser’s settings, or use a picture.",
    NotFoundError: "This device has no camera. Use a picture, or a scanner that types.",
  };

  const start = async (video) => {
    if (!navigator.mediaDevices) throw Object.assign(new Error(), { name: "NotFoundError" });
    const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1280 } } });
    video.srcObject = stream;
    await video.play();
    return stream;
  };

  window.ScanCamera = (paths) => new Promise((resolve) => {
    const { dialog, said, video, picture, close } = window_();
    let stream = null;
    let open = true;

    const finish = (text) => {
      if (!open) return;
      open = false;
      for (const track of stream ? stream.getTracks() : []) track.stop();
      dialog.close();
      dialog.remove();
      resolve(text);
    };

    const watch = async () => {
      while (open) {
        try {
          const text = video.videoWidth ? await look(video, video.videoWidth, video.videoHeight, paths) : "";
          if (text) return finish(text);
        } catch (problem) {
          said.textContent = "The code reader could not be loaded: there is no connection. Type what the label says.";
          return null;
        }
        await new Promise((go) => setTimeout(go, EVERY));
      }
      return null;
    };

    close.addEventListener("click", () => finish(""));
    dialog.addEventListener("close", () => finish(""));
    picture.addEventListener("change", async () => {
      if (!picture.files.length) return;
      said.textContent = "Looking for a code in the picture …";
      try {
        const text = await ofPicture(picture.files[0], paths);
        if (text) finish(text);
        else said.textContent = "No code was found in the picture. Take it nearer, level and without glare.";
      } catch (problem) {
        said.textContent = "The picture could not be read. Choose a photograph, or type what the label says.";
      }
    });
    dialog.showModal();
    start(video).then(
      (found) => {
        stream = found;
        if (!open) for (const track of stream.getTracks()) track.stop();
        else {
          said.textContent = "Hold the code in the middle of the picture.";
          watch();
        }
      },
      (problem) => {
        video.hidden = true;
        said.textContent = NO_CAMERA[problem.name] || "The camera did not start. Use a picture, or type what the label says.";
      },
    );
  });
})();
