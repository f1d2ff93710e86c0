"""The desk's pages of the coming weeks."""
