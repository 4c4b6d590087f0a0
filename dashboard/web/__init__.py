"""What the pages share: bar, addresses."""
