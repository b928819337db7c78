// While a slider moves, the server computes the set-up anew and this page shows it; a change of parts loads the page,
// because the sliders' ends change with them.

const form = /** @type {HTMLFormElement} */ (document.querySelector("form[data-live]"));
const shown = /** @type {HTMLElement} */ (document.getElementById("figures"));
/** @type {AbortController | null} */
let asking = null;

function query() {
  return new URLSearchParams(/** @type {any} */ (new FormData(form))).toString();
}

async function renew() {
  asking?.abort();
  asking = new AbortController();
  const asked = query();
  const answer = await fetch(`${form.dataset.live}?${asked}`, { signal: asking.signal }).catch(() => null);
  const text = answer?.ok ? await answer.text().catch(() => null) : null;
  if (text === null) return; // a newer question is under way, or the connection is lost: the last figures stay
  shown.innerHTML = text;
  history.replaceState(null, "", `?${asked}`);
}

/** @param {HTMLInputElement} slider */
function say(slider) {
  const words = slider.dataset.labels?.split(" ")[Number(slider.value)] ?? `${slider.value} mm`;
  const output = slider.parentElement?.querySelector("output");
  if (output) output.textContent = words;
  slider.setAttribute("aria-valuetext", words);
}

form.addEventListener("input", (event) => {
  const field = /** @type {HTMLElement} */ (event.target);
  if (!(field instanceof HTMLInputElement) || field.type !== "range") return;
  say(field);
  renew();
});
form.addEventListener("change", (event) => {
  if (event.target instanceof HTMLSelectElement) form.requestSubmit();
});
// With scripts nothing has to be sent by hand.
form.querySelector(".actions")?.remove();

// On a small screen the drawing comes before the parts.
const parts = /** @type {HTMLDetailsElement | null} */ (form.querySelector("details.parts"));
if (parts && matchMedia("(max-width: 48rem)").matches) parts.open = false;
