// A step of a drop-off is kept on the server while it is typed: a closed tab or a lost connection loses nothing.
// Without this each step is kept when its button is pressed.

const form = document.querySelector("form[data-keep]");
const says = form.querySelector("[data-kept]");
const words = document.querySelector("[data-words]").dataset;
const REST = 800; // after the last key
const AGAIN = 4000; // after a try that failed
let timer;
let unsent = false;
let sending = false;

const later = (milliseconds) => {
  clearTimeout(timer);
  timer = setTimeout(keep, milliseconds);
};

const typed = () => {
  const data = new FormData(form);
  for (const input of form.querySelectorAll("input[type=file]")) {
    data.delete(input.name); // photographs go with their own button
  }
  return data;
};

async function keep() {
  if (sending) {
    later(REST);
    return;
  }
  sending = true;
  unsent = false;
  try {
    const answer = await fetch(form.action || location.href, { method: "POST", body: typed(), headers: { "X-Keep": "1" } });
    if (answer.status === 409 || answer.status === 410) {
      says.textContent = words.taken;
    } else if (answer.ok && !answer.redirected) {
      says.textContent = words.kept;
    } else {
      throw new Error(answer.status);
    }
  } catch {
    unsent = true;
    says.textContent = words.notKept;
    later(AGAIN);
  } finally {
    sending = false;
  }
}

form.addEventListener("input", (event) => {
  if (event.target.type !== "file") {
    unsent = true;
    later(REST);
  }
});
form.addEventListener("submit", (event) => {
  clearTimeout(timer);
  if (!navigator.onLine) {
    event.preventDefault(); // the page stays, with all that was typed
    unsent = true;
    says.textContent = words.notKept;
    later(AGAIN);
  }
});
window.addEventListener("online", () => unsent && later(0));
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden" && unsent) {
    clearTimeout(timer);
    navigator.sendBeacon(`${location.pathname}?keep=1`, typed());
  }
});
