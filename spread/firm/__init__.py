"""A firm's buildings fitted together: each keeps its posterior, and all of them teach one another."""
