"""Bringing a firm's own notes into the log."""
