"""The pages of the words in letters, which a house may put in place of ours."""
