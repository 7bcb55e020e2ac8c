// A button with data-copies puts the text of that field on the clipboard. Without scripts it stays
// hidden and the field is there to be copied by hand.
"use strict";
for (const button of document.querySelectorAll("button[data-copies]")) {
  const field = document.getElementById(button.dataset.copies);
  if (!field) continue;
  const named = button.textContent;
  button.hidden = false;
  button.setAttribute("aria-live", "polite");
  button.addEventListener("click", async () => {
    field.select();
    try {
      await navigator.clipboard.writeText(field.value);
    } catch {
      if (!document.execCommand("copy")) return; // the text is selected: the keyboard can copy it
    }
    button.textContent = button.dataset.done;
    setTimeout(() => { button.textContent = named; }, 2000);
  });
}
