"""What owners answered to the letters of a time: counted as one looks, or every hour for a book that is slow to count."""
