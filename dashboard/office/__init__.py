"""An office served: its buildings, each at an address of its own, and the people who may open them."""
