// The signature on glass: finger, pen or mouse leave points in a box of 1000 by 300, which the server draws itself.
// Without this the owner's name is typed and a box ticked.

const glass = document.querySelector("[data-glass]");
const canvas = glass.querySelector("canvas");
const field = document.querySelector("[data-strokes]");
const empty = glass.querySelector("[data-glass-empty]");
const pen = canvas.getContext("2d");
const strokes = [];
const MOST_POINTS = 5500;
let points = 0;
let stroke = null;
let hand = null; // the pointer that writes: one at a time, until it lifts

glass.hidden = false;
document.querySelector("[data-by-name]").open = false;

const ink = () => {
  pen.strokeStyle = getComputedStyle(canvas).color;
  pen.lineWidth = 5;
  pen.lineCap = pen.lineJoin = "round";
};

const place = (event) => {
  const box = canvas.getBoundingClientRect();
  const within = (value, size, most) => Math.round(Math.min(Math.max(value / size, 0), 1) * most);
  return [
    within(event.clientX - box.left, box.width, canvas.width),
    within(event.clientY - box.top, box.height, canvas.height),
  ];
};

const wipe = () => {
  hand = stroke = null;
  strokes.length = 0;
  points = 0;
  field.value = "";
  pen.clearRect(0, 0, canvas.width, canvas.height);
  empty.hidden = false;
};

const line = ([fromX, fromY], [x, y]) => {
  pen.beginPath();
  pen.moveTo(fromX, fromY);
  pen.lineTo(x, y);
  pen.stroke();
};

// All that was written, anew.
const draw = () => {
  pen.clearRect(0, 0, canvas.width, canvas.height);
  ink();
  for (const one of strokes) {
    one.slice(1).forEach((point, at) => line(one[at], point));
  }
};

canvas.addEventListener("pointerdown", (event) => {
  event.preventDefault();
  if (hand && (hand.pointerType === "pen" || event.pointerType !== "pen")) {
    return; // the palm beside the pen, or a second finger
  }
  if (hand) {
    strokes.pop(); // the palm came first
    draw();
  }
  hand = event;
  canvas.setPointerCapture(event.pointerId);
  ink();
  stroke = [place(event)];
  strokes.push(stroke);
  empty.hidden = true;
});
canvas.addEventListener("pointermove", (event) => {
  if (event.pointerId !== hand?.pointerId || points >= MOST_POINTS) {
    return;
  }
  const to = place(event);
  const from = stroke.at(-1);
  if (to[0] === from[0] && to[1] === from[1]) {
    return;
  }
  line(from, to);
  stroke.push(to);
  points += 1;
});
const lift = (event) => {
  if (event.pointerId === hand?.pointerId) {
    hand = stroke = null;
    field.value = JSON.stringify(strokes);
  }
};
canvas.addEventListener("pointerup", lift);
canvas.addEventListener("pointercancel", lift);
canvas.addEventListener("lostpointercapture", lift);
glass.querySelector("[data-wipe]").addEventListener("click", wipe);
wipe();

// What was drawn before another field was found wrong. Only as the server gives it, never as the browser remembers a
// form: it stands under the text that is shown.
if (field.dataset.strokes) {
  strokes.push(...JSON.parse(field.dataset.strokes));
  points = strokes.flat().length;
  empty.hidden = strokes.length > 0;
  field.value = JSON.stringify(strokes);
  draw();
}
