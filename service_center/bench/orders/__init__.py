"""Work orders as the workshop sees them: reception, the bench, control and hand-back, with all that follows."""
