// The grid of readings: Enter and the arrows move between cells, and a block of cells can be pasted. Left and right
// leave a cell only from its edge, or where all of it is selected, so that a figure can still be mended.
// Without this the grid is typed into, cell by cell, with Tab.

const cellsOf = (table) => [...table.tBodies[0].rows].map((row) => [...row.querySelectorAll("input")]);

const place = (cells, input) => {
  const row = cells.findIndex((inputs) => inputs.includes(input));
  return [row, cells[row].indexOf(input)];
};

const sideways = ({ key, target }) => {
  const { selectionStart: from, selectionEnd: to, value } = target;
  const all = from === 0 && to === value.length;
  if (key === "ArrowRight" && (all || from === value.length)) {
    return 1;
  }
  return key === "ArrowLeft" && (all || to === 0) ? -1 : 0;
};

const move = (event, cells) => {
  const [row, column] = place(cells, event.target);
  const beside = cells[row][column + sideways(event)];
  if (sideways(event) && beside) {
    event.preventDefault();
    beside.focus();
    beside.select();
    return;
  }
  const step = { ArrowUp: -1, ArrowDown: 1, Enter: 1 }[event.key];
  if (!step) {
    return;
  }
  event.preventDefault(); // Enter in a cell goes on; only the button takes in
  const next = cells[row + step]?.[column] ?? (event.key === "Enter" ? cells[0][column + 1] : undefined);
  next?.focus();
  next?.select();
};

const paste = (event, cells) => {
  // Only the end of the last line goes: an empty cell or row at the block's head holds the place of its position.
  const lines = event.clipboardData.getData("text").replace(/\r?\n$/, "").split(/\r?\n/);
  const block = lines.map((line) => line.split(/[\t;]/).map((text) => text.trim()));
  if (block.length === 1 && block[0].length === 1) {
    return;
  }
  event.preventDefault();
  const [top, left] = place(cells, event.target);
  const wide = Math.max(...block.map((values) => values.length));
  block.forEach((values, down) => {
    for (let right = 0; right < wide; right += 1) {
      const input = cells[top + down]?.[left + right];
      if (input) {
        input.value = values[right] ?? "";
      }
    }
  });
  event.target.dispatchEvent(new Event("input", { bubbles: true })); // as if typed: the step is kept
};

for (const table of document.querySelectorAll("[data-readings]")) {
  const cells = cellsOf(table);
  table.addEventListener("keydown", (event) => event.target.matches("input") && move(event, cells));
  table.addEventListener("paste", (event) => event.target.matches("input") && paste(event, cells));
}
