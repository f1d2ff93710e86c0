"""What the pages of planning show: rows, sentences and pictures, made of what queries and rules found."""
