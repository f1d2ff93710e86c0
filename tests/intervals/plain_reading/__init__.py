"""The due dates once more, written from the page design/due-dates.md alone, to be read beside it.

This is the second of the "two independent implementations that follow this page". It exists to check the product,
so it must never import it, nor be written by looking at it: only the page, the CSV columns of design/outside.md,
and the standard library. Where the page leaves something open, the most literal reading is taken and said so here
under "Taken literally".

`book.py` has the words of the page, the facts that exist on a day and the calendar; `interval.py` where an interval starts,
which rule it has and what evidence does to it; `due.py` the state, and the whole book.
"""
