"""What the round of a day would do: asked for by the desk, worked out by the worker, looked at as often as wanted."""
