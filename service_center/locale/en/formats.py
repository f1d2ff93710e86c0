"""The day before the month, the month in words: read alike on both sides of every ocean."""

DATE_FORMAT = "j F Y"
SHORT_DATE_FORMAT = "j M Y"
DATETIME_FORMAT = "j F Y, H:i"
SHORT_DATETIME_FORMAT = "j M Y, H:i"
TIME_FORMAT = "H:i"
MONTH_DAY_FORMAT = "j F"
FIRST_DAY_OF_WEEK = 1
