"""No nought before the day, and the month small, as Italian writes it (E: the month's name inside a date)."""

DATE_FORMAT = "j E Y"
