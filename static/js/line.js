// Without a line a form stays on the page with all that was typed, instead of the browser's own page of errors. A form
// that keeps itself while it is typed (keep_step.js) says so in its own words.
// In braces: it stands on every page, beside scripts with names of their own.

{
  const words = document.currentScript.dataset.noLine;

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (navigator.onLine || event.defaultPrevented || form.matches("[data-keep]")) {
      return;
    }
    event.preventDefault();
    const said = document.querySelector("[data-no-line-said]") || document.createElement("p");
    said.dataset.noLineSaid = "";
    said.className = "notice notice--error";
    said.setAttribute("role", "alert");
    said.textContent = words;
    const beside = event.submitter || form.lastElementChild;
    (beside.closest(".actions, fieldset") || beside).before(said);
  });

  window.addEventListener("online", () => document.querySelector("[data-no-line-said]")?.remove());
}
