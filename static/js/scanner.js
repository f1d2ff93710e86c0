// A scanner types fast and ends with Enter. Where nobody stands in a field, what it typed is looked for, on any page; a
// page that takes codes itself says so with data-scanned. Without this a code is scanned into the field at the top.
// A page puts people into its field with its first picture, and whoever is quick has typed the first letters by then:
// they move into the field, or a serial would be sought without its head. For this it runs in the page's head, before
// the styles and before there is a body.
// In braces: it stands on every page, beside scripts with names of their own.

{
  const BETWEEN_KEYS = 100; // milliseconds; nobody types four letters and Enter that fast
  const SHORTEST = 4;
  const TYPED_INTO = "input:not([type='checkbox'], [type='radio'], [type='submit'], [type='button']), select, textarea";
  const SOUGHT = "[data-scanned], [type='search']";

  let typed = ""; // as fast as a scanner
  let last = 0;
  let early = ""; // at any pace, on a page where nobody has been anywhere yet
  let entered = false; // and Enter after it
  let settled = false; // somebody has been somewhere: from now on letters go where they are typed

  const isEarly = ({ target }) => !settled && (target === document.body || target === document.documentElement);

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
      if (isEarly(event)) {
        early = entered ? event.key : early + event.key;
        entered = false;
      }
    } else if (event.key === "Enter") {
      const field = document.querySelector("[data-scanned]") || document.getElementById("search-everywhere");
      if (typed.length >= SHORTEST && field) {
        event.preventDefault();
        field.value = typed;
        field.form.requestSubmit();
        early = "";
      } else {
        entered = isEarly(event);
      }
      typed = "";
    }
  });

  // What was sought before stands in the field: the next scan takes its place.
  const mark = (field) => {
    if (field.type === "search" && field.value === field.defaultValue) {
      field.select();
    }
  };

  const settle = () => {
    settled = true;
    early = "";
    typed = "";
  };

  document.addEventListener("focusin", ({ target: field }) => {
    if (field.matches("[autofocus]")) {
      if (early.trim() && field.value === field.defaultValue) {
        field.value = early;
        if (entered && field.matches(SOUGHT)) {
          field.form.requestSubmit();
        }
      } else {
        mark(field);
      }
    }
    settle();
  });
  document.addEventListener("pointerdown", settle);

  // The next scan may come before the next page is there: it takes the place of the one that is on its way. Without a
  // line nothing is on its way, and what stands there stays.
  document.addEventListener("submit", ({ target: form }) => {
    if (navigator.onLine) {
      form.querySelector(SOUGHT)?.select();
    }
  });
}
