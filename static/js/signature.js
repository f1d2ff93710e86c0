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
  strokes.length = 0;
  points = 0;
  field.value = "";
  pen.clearRect(0, 0, canvas.width, canvas.height);
  empty.hidden = false;
};

canvas.addEventListener("pointerdown", (event) => {
  event.preventDefault();
  canvas.setPointerCapture(event.pointerId);
  ink();
  stroke = [place(event)];
  strokes.push(stroke);
  empty.hidden = true;
});
canvas.addEventListener("pointermove", (event) => {
  if (!stroke || points >= MOST_POINTS) {
    return;
  }
  const [x, y] = place(event);
  const [fromX, fromY] = stroke.at(-1);
  if (x === fromX && y === fromY) {
    return;
  }
  pen.beginPath();
  pen.moveTo(fromX, fromY);
  pen.lineTo(x, y);
  pen.stroke();
  stroke.push([x, y]);
  points += 1;
});
const lift = () => {
  if (stroke) {
    stroke = null;
    field.value = JSON.stringify(strokes);
  }
};
canvas.addEventListener("pointerup", lift);
canvas.addEventListener("pointercancel", lift);
glass.querySelector("[data-wipe]").addEventListener("click", wipe);
wipe();
