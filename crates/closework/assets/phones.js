// The page "Phones": the time that a code has left, and the page anew when a phone has paired or the time is over.

const box = /** @type {HTMLElement | null} */ (document.querySelector(".pairing"));
const left = /** @type {HTMLElement | null} */ (box?.querySelector(".left"));
const began = performance.now();

/** Looks every few seconds whether the code was used: then the list of phones is another. */
async function watch() {
  if (!box || !left) return;
  const seconds = Number(box.dataset.left) - (performance.now() - began) / 1000;
  left.textContent = String(Math.max(1, Math.ceil(seconds / 60)));
  const answer = await fetch(location.href).catch(() => null);
  const used = answer?.ok && !(await answer.text()).includes('class="pairing"');
  if (used || seconds <= 0) return location.reload();
  setTimeout(watch, 3000);
}

watch();
