"""The house's usual time and price for what is asked."""
