"""The workshop: work orders from logged to handed back, their operations, and the benches that do them."""
