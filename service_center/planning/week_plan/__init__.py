"""The week's plan of the benches: kept, fixed line by line by the desk, shown and printed."""
