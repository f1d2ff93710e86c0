// While something is being worked out, asks now and then whether it is there, and shows the page again once it is.
// Without this the page has a link that does the same.

const under = document.querySelector("[data-under-way]");
const BETWEEN = 1500;
const AT_MOST = 15000;
let pause = BETWEEN;

async function look() {
  try {
    const answer = await fetch(under.dataset.underWay, { headers: { Accept: "text/plain" } });
    if (answer.status === 200 && !answer.redirected) {
      location.reload();
      return;
    }
  } catch {
    // the line is away; ask again later
  }
  pause = Math.min(pause * 1.3, AT_MOST);
  setTimeout(look, pause);
}

setTimeout(look, pause);
