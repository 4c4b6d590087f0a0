"""How an office's tables came to be, step by step (Alembic)."""
