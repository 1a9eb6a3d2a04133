"""How often the intervals cover and the calls are right, on made-up comparisons whose truth is known."""
