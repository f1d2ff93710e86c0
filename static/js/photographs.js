// A photograph goes off as soon as it is taken or chosen, or once the line is back. Without this it goes with "Add them".

const section = document.querySelector("[data-photographs]");
const add = section.querySelector("[data-add] button");

if (add) {
  const go = () => photographWaits() && add.form.requestSubmit(add);
  add.closest("[data-add]").hidden = true;
  section.addEventListener("change", go);
  add.form.addEventListener("kept", go);
}
