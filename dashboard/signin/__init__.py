"""Who may reach a building that is served to others: people, their pass phrases, a gate before every page."""
