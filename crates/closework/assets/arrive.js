// Dropped and chosen scans: one request each, with its progress and its way out. Without this script the plain form
// does the same in one go.

const form = /** @type {HTMLFormElement} */ (document.querySelector("form.drop"));
const input = /** @type {HTMLInputElement} */ (form.querySelector("input[type=file]"));
const list = /** @type {HTMLElement} */ (form.querySelector(".arriving"));
/** @type {Promise<unknown>} */
let queue = Promise.resolve();
let waiting = 0;
let refused = 0;
let loaded = 0;

/** @param {File} file */
function row(file) {
  const li = document.createElement("li");
  const name = document.createElement("span");
  name.id = "arriving-" + list.children.length;
  name.textContent = file.name;
  const bar = document.createElement("progress");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-labelledby", name.id);
  const stop = document.createElement("button");
  stop.type = "button";
  stop.className = "quiet";
  stop.textContent = "Stop";
  const say = document.createElement("p");
  say.textContent = "waiting";
  li.append(name, bar, stop, say);
  list.append(li);
  return { bar, stop, say };
}

/** The sentence on an error page. @param {string} text */
function why(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const said = page.querySelector(".refusal .what")?.textContent;
  return said ?? "The upload failed, and the program did not say why. Is it still running?";
}

/** @param {File} file @param {ReturnType<typeof row>} parts @returns {Promise<void>} */
function send(file, { bar, stop, say }) {
  return new Promise((done) => {
    const data = new FormData();
    const frame = /** @type {HTMLSelectElement | null} */ (form.querySelector("select[name=frame]"));
    if (frame) data.append("frame", frame.value);
    data.append("file", file);
    const request = new XMLHttpRequest();
    const end = (/** @type {string} */ words, /** @type {boolean} */ ok) => {
      say.textContent = words;
      stop.remove();
      if (ok) loaded += 1;
      else { refused += 1; say.className = "error"; bar.remove(); }
      done();
    };
    request.upload.onprogress = (event) => {
      if (event.lengthComputable) bar.value = event.loaded / event.total;
      say.textContent = bar.value < 1 ? `${Math.round(bar.value * 100)} % sent` : "arrived, being looked at";
    };
    request.onload = () => request.status < 400 ? end("loaded", true) : end(why(request.responseText), false);
    request.onerror = () => end("The connection broke off; nothing of it was kept. Load it again.", false);
    request.onabort = () => end("stopped; nothing of it was kept", false);
    stop.onclick = () => request.abort();
    request.open("POST", form.action);
    request.send(data);
  });
}

/** @param {Iterable<File>} files */
function load(files) {
  for (const file of files) {
    const parts = row(file);
    let stopped = false;
    parts.stop.onclick = () => { stopped = true; parts.say.textContent = "stopped"; parts.stop.remove(); };
    waiting += 1;
    queue = queue.then(() => stopped ? undefined : send(file, parts)).then(() => {
      waiting -= 1;
      // What was refused stays to be read; the list below is fetched anew only when all went well.
      if (waiting === 0 && refused === 0) location.assign("/scans");
      else if (waiting === 0 && loaded > 0) note();
    });
  }
}

function note() {
  if (list.querySelector("a")) return;
  const li = document.createElement("li");
  const link = document.createElement("a");
  link.href = "/scans";
  link.textContent = "Show what was loaded";
  li.append(link);
  list.append(li);
}

form.addEventListener("submit", (event) => {
  if (!input.files?.length) return; // the server says what to do
  event.preventDefault();
  load([...input.files]);
  input.value = "";
});

document.addEventListener("dragover", (event) => {
  if (!event.dataTransfer?.types.includes("Files")) return;
  event.preventDefault();
  form.classList.add("over");
});
document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) form.classList.remove("over"); });
document.addEventListener("drop", (event) => {
  if (!event.dataTransfer?.files.length) return;
  event.preventDefault();
  form.classList.remove("over");
  load([...event.dataTransfer.files]);
});
