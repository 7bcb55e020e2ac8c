// "/" goes to the first search field of the page. Never while somebody types.
"use strict";
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, select, textarea, [contenteditable]")) return;
  const field = document.querySelector("main input[type=search]");
  if (!field) return;
  event.preventDefault();
  field.focus();
  field.select();
});
