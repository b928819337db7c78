// At the size on film, or as in a print: both need to know how large this screen is.

/** The line that is measured, CSS pixels. */
const LINE_PX = 300;
const KEPT = "screen-line-mm";

/**
 * @param {HTMLElement} side
 * @param {(size: "film" | "frame", perUnit: number) => void} show CSS pixels for one mm of film, or for a hundredth of the frame's width
 */
export function wakeLoupe(side, show) {
  const loupe = /** @type {HTMLElement} */ (side.querySelector(".loupe"));
  const field = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (loupe.querySelector(`[name=${name}]`));
  const words = /** @type {HTMLElement} */ (loupe.querySelector(".loupe-words"));
  const line = field("line-mm");
  line.value = localStorage.getItem(KEPT) ?? "";
  line.addEventListener("input", () => {
    try { localStorage.setItem(KEPT, line.value); } catch { /* it costs only the memory */ }
  });

  /** CSS pixels for a millimetre of this screen; says what is missing. */
  function perMm() {
    const mm = Number(line.value);
    if (mm >= 20 && mm <= 300) return LINE_PX / mm;
    words.textContent = "Measure the line first: without its length the size of this screen is not known.";
    line.focus();
    return null;
  }

  for (const button of /** @type {NodeListOf<HTMLElement>} */ (loupe.querySelectorAll("[data-film]"))) {
    button.addEventListener("click", () => {
      const pixels = perMm();
      if (!pixels) return;
      show("film", pixels * Number(button.dataset.film));
      words.textContent = `As on film, ${button.dataset.film} times: a millimetre of film takes ${button.dataset.film} mm of this screen.`;
    });
  }
  loupe.querySelector("[data-print]")?.addEventListener("click", () => {
    const pixels = perMm();
    if (!pixels) return;
    const [print, distance, eye] = ["print-cm", "distance-cm", "eye-cm"].map((name) => Number(field(name).value));
    if (!(print > 0 && distance > 0 && eye > 0)) {
      words.textContent = "Enter the print's width and both distances, in cm.";
      return;
    }
    // At another distance than the print's the same angle takes another size.
    const width = print * eye / distance;
    show("frame", pixels * 10 * width / 100);
    words.textContent = `A print ${print} cm wide at ${distance} cm: the frame's width takes ${Math.round(10 * width) / 10} cm of this screen.`;
  });
}
