// The grid of readings: Enter and the arrows move between cells, and a block of cells can be pasted.
// Without this the grid is typed into, cell by cell, with Tab.

const cellsOf = (table) => [...table.tBodies[0].rows].map((row) => [...row.querySelectorAll("input")]);

const place = (cells, input) => {
  const row = cells.findIndex((inputs) => inputs.includes(input));
  return [row, cells[row].indexOf(input)];
};

const move = (event, cells) => {
  const [row, column] = place(cells, event.target);
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
  const lines = event.clipboardData.getData("text").trim().split(/\r?\n/);
  const block = lines.map((line) => line.split(/[\t;]/).map((text) => text.trim()));
  if (block.length === 1 && block[0].length === 1) {
    return;
  }
  event.preventDefault();
  const [top, left] = place(cells, event.target);
  block.forEach((values, down) => {
    values.forEach((value, right) => {
      const input = cells[top + down]?.[left + right];
      if (input) {
        input.value = value;
      }
    });
  });
};

for (const table of document.querySelectorAll("[data-readings]")) {
  const cells = cellsOf(table);
  table.addEventListener("keydown", (event) => event.target.matches("input") && move(event, cells));
  table.addEventListener("paste", (event) => event.target.matches("input") && paste(event, cells));
}
