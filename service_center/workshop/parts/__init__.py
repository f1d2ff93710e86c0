"""Parts: which there are, what an order used, what lies on the shelf."""
