// A step of a drop-off is kept on the server while it is typed: a closed tab or a lost connection loses nothing. A
// button of the form waits until what was typed is kept, so that nothing older arrives after it, and nothing is lost
// where the line or the sign-in is gone. Without this each step is kept when its button is pressed.

const form = document.querySelector("form[data-keep]");
const says = form.querySelector("[data-kept]");
const words = document.querySelector("[data-words]").dataset;
const REST = 800; // after the last key
const AGAIN = 4000; // after a try that failed
const PATIENCE = 5000; // how long a button waits for an answer
let timer;
let typedTimes = 0;
let keptTimes = 0; // as many of them as an answer has come for
let underWay = null; // the keep that waits for its answer
let leaving = false; // the whole form is on its way

const unsent = () => typedTimes > keptTimes && !leaving;

const later = (milliseconds) => {
  clearTimeout(timer);
  timer = setTimeout(keep, milliseconds);
};

// Whoever signed in again in another tab has a new token, and this page the old one.
const renewToken = () => {
  const [, token] = document.cookie.match(/(?:^|; )(?:__Host-)?csrftoken=([^;]+)/) || [];
  if (token) {
    form.elements.csrfmiddlewaretoken.value = token;
  }
};

const photographWaits = () =>
  [...form.querySelectorAll("[data-photographs] input[type=file]")].some((input) => input.files.length);

const typed = () => {
  renewToken();
  const data = new FormData(form);
  for (const input of form.querySelectorAll("input[type=file]")) {
    data.delete(input.name); // photographs go with their own button
  }
  return data;
};

const notKept = () => {
  says.textContent = words.notKept;
  later(AGAIN);
};

async function send() {
  const times = typedTimes;
  clearTimeout(timer);
  let answer;
  try {
    answer = await fetch(form.action || location.href, { method: "POST", body: typed(), headers: { "X-Keep": "1" } });
  } catch {
    notKept();
    return false;
  }
  const taken = answer.status === 409 || answer.status === 410;
  if (!taken && (!answer.ok || answer.redirected)) {
    notKept();
    return false;
  }
  keptTimes = times;
  if (unsent()) {
    later(REST);
  }
  if (taken) {
    says.textContent = words.taken;
  } else if (photographWaits()) {
    form.dispatchEvent(new Event("kept")); // photographs.js sends it now
  } else {
    says.textContent = words.kept;
  }
  return true;
}

// One at a time. Whether the server has answered.
function keep() {
  underWay ??= send().finally(() => {
    underWay = null;
  });
  return underWay;
}

const touched = () => {
  typedTimes += 1;
  leaving = false;
};

let waits = false; // a button was pressed, and a keep comes first
let passes = false; // and now it is the button's turn
let button;

async function keepFirst(submitter) {
  button = submitter;
  if (waits) {
    return;
  }
  waits = true;
  const answered = await Promise.race([keep(), new Promise((over) => setTimeout(over, PATIENCE, true))]);
  waits = false;
  if (answered) {
    passes = true;
    form.requestSubmit(button);
    passes = false;
  }
}

form.addEventListener("input", (event) => {
  if (event.target.type !== "file") {
    touched();
    later(REST);
  }
});
form.addEventListener("submit", (event) => {
  clearTimeout(timer);
  if (!navigator.onLine) {
    event.preventDefault(); // the page stays, with all that was typed
    touched();
    notKept();
  } else if (!passes && (underWay || unsent())) {
    event.preventDefault();
    keepFirst(event.submitter);
  } else {
    renewToken();
    leaving = true;
  }
});
window.addEventListener("online", () => unsent() && later(0));
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden" && unsent()) {
    clearTimeout(timer);
    navigator.sendBeacon(`${location.pathname}?keep=1`, typed());
  }
});
