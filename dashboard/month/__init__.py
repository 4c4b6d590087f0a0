"""The owner's month."""
