// The list of offers: keys move from row to row, open and tick; the shown rows are copied as text.
// Everything here can also be done without a script, by links, boxes and the address of the text.
"use strict";
(() => {
  const box = document.querySelector(".offers");
  if (!box) return;
  const links = () => [...box.querySelectorAll("tbody a.opens")];
  const typing = (target) =>
    target.closest("input:not([type=checkbox]), select, textarea, [contenteditable]");

  // keys
  const move = (step) => {
    const all = links();
    if (!all.length) return;
    const row = document.activeElement.closest(".offers tbody tr");
    const here = row ? all.indexOf(row.querySelector("a.opens")) : -1;
    const next = here < 0 ? (step > 0 ? 0 : all.length - 1) : here + step;
    all[Math.max(0, Math.min(all.length - 1, next))].focus();
  };
  const rowOf = () => document.activeElement.closest(".offers tbody tr");
  const keys = {
    j: () => move(1), ArrowDown: () => move(1), k: () => move(-1), ArrowUp: () => move(-1),
    x: () => {
      const tick = rowOf() && rowOf().querySelector("input[type=checkbox]");
      if (!tick) return false;
      tick.click();
      return true;
    },
    Enter: () => {
      const row = rowOf();
      if (!row || document.activeElement.type !== "checkbox") return false;
      row.querySelector("a.opens").click(); // in a box, Enter would send the form
      return true;
    },
    "?": () => {
      const list = document.getElementById("keys");
      list.open = !list.open;
      list.querySelector("summary").focus();
    },
  };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (!(event.key in keys) || typing(event.target)) return;
    if (event.key.startsWith("Arrow") && !event.target.matches("body, main, .offers *")) return;
    if (keys[event.key]() !== false) event.preventDefault();
  });

  // ticks
  const said = document.getElementById("ticked");
  const count = () => {
    const ticked = box.querySelectorAll("tbody input:checked").length;
    const all = document.querySelector("#several [name=all]");
    said.textContent = all && all.checked ? "All that match."
      : ticked ? `${ticked} ticked.` : "Tick offers in the table.";
  };
  document.addEventListener("change", (event) => {
    if (event.target.form && event.target.form.id === "several") count();
  });
  count(); // a browser that goes back keeps the ticks

  // copying
  const copy = document.getElementById("copy-table");
  const told = document.getElementById("copy-said");
  if (!navigator.clipboard) return; // only over a safe connection; the link beside it stays
  copy.hidden = false;
  copy.addEventListener("click", async () => {
    try {
      const answer = await fetch(copy.dataset.from);
      if (!answer.ok) throw new Error(answer.status);
      const text = await answer.text();
      await navigator.clipboard.writeText(text);
      told.textContent = `${text.trimEnd().split("\n").length - 1} rows copied.`;
    } catch {
      told.textContent = "Not copied; open the rows as text instead.";
    }
  });
})();
