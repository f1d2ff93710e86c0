// A photograph goes off as soon as it is taken or chosen. Without this it goes with "Add them".

const section = document.querySelector("[data-photographs]");
const add = section.querySelector("[data-add] button");

if (add) {
  add.closest("[data-add]").hidden = true;
  section.addEventListener("change", (event) => {
    if (event.target.type === "file" && event.target.files.length) {
      add.form.requestSubmit(add);
    }
  });
}
