// A scanner types fast and ends with Enter. Where nobody stands in a field, what it typed is looked for, on any page; a
// page that takes codes itself says so with data-scanned. Without this a code is scanned into the field at the top.
// In braces: it stands on every page, beside scripts with names of their own.

{
  const BETWEEN_KEYS = 100; // milliseconds; nobody types four letters and Enter that fast
  const SHORTEST = 4;
  const TYPED_INTO = "input:not([type='checkbox'], [type='radio'], [type='submit'], [type='button']), select, textarea";

  let typed = "";
  let last = 0;

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.target.closest(TYPED_INTO)) {
      typed = "";
      return;
    }
    if (event.timeStamp - last > BETWEEN_KEYS) {
      typed = "";
    }
    last = event.timeStamp;
    if (event.key.length === 1) {
      typed += event.key;
    } else if (event.key === "Enter") {
      const field = document.querySelector("[data-scanned]") || document.getElementById("search-everywhere");
      if (typed.length >= SHORTEST && field) {
        event.preventDefault();
        field.value = typed;
        field.form.requestSubmit();
      }
      typed = "";
    }
  });
}
