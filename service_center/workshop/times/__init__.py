"""The house's table of standard minutes, beside what its own finished orders say."""
