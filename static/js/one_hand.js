// A number pad has no minus sign: a rate is typed on it, and its sign is one tap. Without this the rate has a keyboard.

const form = document.querySelector("form[data-other-sign]");

for (const input of form.querySelectorAll("input[name$='-rate']:not([type='hidden'])")) {
  const sign = document.createElement("button");
  sign.type = "button";
  sign.className = "button button--quiet one-hand__sign";
  sign.textContent = "±";
  sign.setAttribute("aria-label", form.dataset.otherSign);
  sign.addEventListener("click", () => {
    const typed = input.value.trim();
    input.value = /^[-−–]/.test(typed) ? typed.slice(1) : `-${typed.replace(/^\+/, "")}`;
    input.focus();
  });
  input.inputMode = "decimal";
  const row = document.createElement("div");
  row.className = "one-hand__row";
  input.replaceWith(row);
  row.append(input, sign);
  if (input.autofocus) {
    input.focus();
  }
}
