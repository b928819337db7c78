// A chosen kit file is shown as text, to be looked at before it is brought in.

const chooser = /** @type {HTMLInputElement} */ (document.querySelector("input[data-into]"));
const into = /** @type {HTMLTextAreaElement} */ (document.getElementById(chooser.dataset.into ?? ""));

chooser.addEventListener("change", async () => {
  const file = chooser.files?.[0];
  if (!file) return;
  into.value = await file.text();
  into.dispatchEvent(new Event("input", { bubbles: true }));
  into.focus();
});
