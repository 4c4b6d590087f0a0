"""What people are shown outside the dashboard."""
