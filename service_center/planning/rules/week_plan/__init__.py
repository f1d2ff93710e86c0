"""The week's plan of the benches: who does what on which day. Source: design/workshop.md; the prices are ours to choose."""
