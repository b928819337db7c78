// The page of one scan: the viewer with its tools, channels and clipped samples, and forms that answer without a reload.

import { Ends } from "./ends.js";
import { regions } from "./regions.js";
import { wake, dropAccepted } from "./sheet.js";
import { Viewer, buttonWish } from "./viewer.js";

const element = /** @type {HTMLElement | null} */ (document.querySelector(".pane.single"));
if (element) start(element);

/** A view is told to those who listen when it has rested so long; ms. */
const RESTS = 700;

/** @param {HTMLElement} element */
function start(element) {
  const pane = new Viewer(element);
  const over = regions(pane);
  const ends = new Ends(pane);
  const tools = /** @type {HTMLElement} */ (document.querySelector(".tools"));
  tools.hidden = false;
  const where = /** @type {HTMLElement} */ (tools.querySelector(".where"));
  const spoken = /** @type {HTMLElement} */ (tools.querySelector("[role=status]"));

  // --- tools, channels, clipped samples --------------------------------------------------------------------------------

  /** Calls `act` with the chosen one of a group, now and at every change. @param {string} name @param {(word: string) => void} act */
  function group(name, act) {
    for (const radio of /** @type {NodeListOf<HTMLInputElement>} */ (tools.querySelectorAll(`input[name=${name}]`))) {
      radio.addEventListener("change", () => act(radio.value));
      // A reload may bring back a choice that no event tells of.
      radio.checked = radio.defaultChecked;
    }
  }

  group("tool", (tool) => over.choose(tool));
  group("channel", (channel) => {
    // The filters stand in the page; they work on the finished picture, so that panning costs nothing more.
    pane.canvas.style.filter = channel === "colour" ? "" : `url(#only-${channel})`;
    ends.choose(channel);
  });
  for (const button of tools.querySelectorAll("[data-wish]")) {
    button.addEventListener("click", () => pane.onWish(buttonWish(/** @type {HTMLElement} */ (button).dataset.wish)));
  }

  const clipped = /** @type {HTMLInputElement} */ (tools.querySelector("input[name=ends]"));
  const counted = /** @type {HTMLElement} */ (tools.querySelector(".counted"));
  clipped.checked = false;
  clipped.addEventListener("change", () => {
    counted.textContent = "";
    if (clipped.checked) ends.show((counts) => { counted.textContent = inWords(counts); });
    else ends.hide();
  });

  // --- where the view is -----------------------------------------------------------------------------------------------

  const zoom = () => `${Math.round(pane.scale * pane.ratio * 1000) / 10} %`;
  let resting = 0;

  /** @param {number} [x] @param {number} [y] */
  function tell(x, y) {
    const late = pane.tiles.isLate ? ", parts of the picture are late" : "";
    where.textContent = (x === undefined || y === undefined ? zoom() : `${zoom()}, at ${Math.floor(x)}, ${Math.floor(y)} px`) + late;
  }

  function speak() {
    spoken.textContent = `${zoom()}, middle at ${Math.round(pane.x)}, ${Math.round(pane.y)} px of ${pane.width} by ${pane.height}`;
  }

  pane.onHover = tell;
  pane.onLeave = () => tell();
  pane.onview = () => {
    tell();
    clearTimeout(resting);
    resting = setTimeout(speak, RESTS);
  };
  tell();

  document.addEventListener("input", (event) => {
    if (/** @type {Element} */ (event.target).id?.startsWith("field-")) pane.draw();
  });
  document.addEventListener("restored", () => pane.draw(), true);

  // --- forms that answer without a reload, so that the view stays -------------------------------------------------------

  document.addEventListener("submit", (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!form.matches("form.live") || event.defaultPrevented) return;
    event.preventDefault();
    answer(form);
  });

  /** @param {HTMLFormElement} form */
  async function answer(form) {
    const button = /** @type {HTMLButtonElement | null} */ (form.querySelector(".actions button"));
    if (button) button.disabled = true;
    element.setAttribute("aria-busy", "true");
    try {
      const body = new URLSearchParams(/** @type {any} */ (new FormData(form)));
      const asks = form.method === "get";
      const address = new URL(form.action);
      if (asks) [address.search, address.hash] = [body.toString(), ""];
      const response = await fetch(address, asks ? {} : { method: "POST", body });
      const page = new DOMParser().parseFromString(await response.text(), "text/html");
      const fresh = page.getElementById("work");
      if (!fresh) return document.documentElement.replaceChildren(...page.documentElement.children);
      show(page, fresh, response);
    } catch {
      sayLost(form);
    } finally {
      if (button) button.disabled = false;
      element.removeAttribute("aria-busy");
    }
  }

  /** @param {Document} page @param {HTMLElement} fresh @param {Response} response */
  function show(page, fresh, response) {
    const about = page.getElementById("about");
    if (about) document.getElementById("about")?.replaceWith(document.adoptNode(about));
    document.getElementById("work")?.replaceWith(document.adoptNode(fresh));
    if (response.ok) {
      dropAccepted();
      const url = new URL(response.url);
      history.replaceState(null, "", url.pathname + url.search);
    }
    wake(fresh);
    pane.draw();
    const result = response.ok ? fresh.querySelector("details.measurement[open] summary") : null;
    if (result && new URL(response.url).searchParams.has("shown")) {
      /** @type {HTMLElement} */ (result).focus();
      result.scrollIntoView({ block: "nearest" });
    }
  }

  /** @param {HTMLFormElement} form */
  function sayLost(form) {
    form.querySelector("p.lost")?.remove();
    const p = document.createElement("p");
    p.className = "lost refusal";
    p.setAttribute("role", "alert");
    p.textContent = "Closework does not answer; is it still running? What you typed is kept. Send it again when it runs.";
    form.prepend(p);
  }
}

/** What was counted, or how far the counting is. @param {import("./ends.js").Counts} counts */
function inWords(counts) {
  if (counts.state === "failed") return `Clipped samples could not be looked for. ${counts.why ?? ""}`;
  if (counts.state !== "ready") return `Looking through the whole file${counts.share ? `: ${Math.round(counts.share * 100)} %` : " …"}`;
  const share = (/** @type {number} */ n) => `${n.toLocaleString("en")} (${(100 * n / counts.pixels).toPrecision(2)} %)`;
  const some = (/** @type {number} */ n) => n === 0 ? "none" : share(n);
  if ([...counts.low, ...counts.high].every((n) => n === 0)) return "No sample of the file is at zero or at full scale.";
  const names = counts.grey ? ["samples"] : ["red", "green", "blue"];
  const all = (/** @type {number[]} */ of) => names.map((name, i) => `${name} ${some(of[i])}`).join(", ");
  return `At full scale, lines rising: ${all(counts.high)}. At zero, lines falling: ${all(counts.low)}. Counted in the file, in every pixel.`;
}
