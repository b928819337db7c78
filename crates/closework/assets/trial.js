// Keys for a blind trial: the arrows press the buttons that they point to, Backspace takes the last pick back.

const form = document.querySelector("form.blind");

/** @type {Record<string, string>} */
const answers = { ArrowLeft: "left", ArrowRight: "right", ArrowDown: "no difference" };
let sent = false;

document.addEventListener("keydown", (event) => {
  const typing = event.target instanceof Element && event.target.closest("input, textarea, select");
  if (typing || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.key === "Backspace") {
    /** @type {HTMLButtonElement | null} */ (document.getElementById("take-back"))?.click();
    return;
  }
  const answer = answers[event.key];
  if (!answer || !form) return;
  event.preventDefault();
  /** @type {HTMLButtonElement | null} */ (form.querySelector(`button[value="${answer}"]`))?.click();
});

// Two presses in one breath are one pick.
form?.addEventListener("submit", (event) => {
  if (sent) event.preventDefault();
  sent = true;
});
addEventListener("pageshow", () => { sent = false; });
