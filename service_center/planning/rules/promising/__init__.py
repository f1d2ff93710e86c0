"""When an order would be ready, from the benches' finite hours (design/workshop.md, promise dates). No Django, no clock."""
